"""The certificate that docs/install.md tells how to make is one that a tablet takes."""

from __future__ import annotations

import re
import shutil
import ssl
import subprocess
from pathlib import Path

import pytest

from display.web.server import Tls

DOCS = Path(__file__).parents[2] / "docs/install.md"


@pytest.mark.slow
def test_the_certificate_of_the_docs_is_taken_by_name(tmp_path: Path) -> None:
    lines = re.findall(r"^ +((?:openssl|printf) .*)$", DOCS.read_text(), re.MULTILINE)
    assert len(lines) == 4
    shell, told = [shutil.which("sh") or "sh", "-e"], "\n".join(lines)
    subprocess.run(shell, input=told, text=True, cwd=tmp_path, check=True, capture_output=True)
    server = Tls(tmp_path / "display.crt", tmp_path / "display.key").context()
    client = ssl.create_default_context(cafile=str(tmp_path / "shop-ca.crt"))
    client.verify_flags |= ssl.VERIFY_X509_STRICT
    for name, is_taken in (("bay-2.quarry.example", True), ("192.0.2.20", True), ("other.example", False)):
        if is_taken:
            _shake(server, client, name)
        else:
            with pytest.raises(ssl.SSLCertVerificationError):
                _shake(server, client, name)


def _shake(server: ssl.SSLContext, client: ssl.SSLContext, name: str) -> None:
    """Hands, over no network."""
    there, back = ssl.MemoryBIO(), ssl.MemoryBIO()
    ends = [
        server.wrap_bio(there, back, server_side=True),
        client.wrap_bio(back, there, server_hostname=name),
    ]
    left = list(ends)
    for _ in range(10):
        for end in tuple(left):
            try:
                end.do_handshake()
                left.remove(end)
            except ssl.SSLWantReadError:
                continue
    assert left == []
