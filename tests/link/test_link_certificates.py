"""A broker that wants a certificate, and a client whose certificate is another authority's."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from link.bursts import connect
from link.errors import LinkError
from tests.link.certificates import certificate, write_pem
from tests.link.outside import mosquitto


@pytest.mark.slow
@pytest.mark.parametrize(
    ("shown", "why"), [(None, "wants a certificate of ours"), ("stranger", "does not trust ours")]
)
async def test_a_certificate_that_is_not_taken_is_told(shown: str | None, why: str, tmp_path: Path) -> None:
    ca = certificate("the quarry's authority")
    write_pem(tmp_path, "ca", ca)
    write_pem(tmp_path, "broker", certificate("127.0.0.1", ca))
    write_pem(tmp_path, "stranger", certificate("writer", certificate("another authority")))
    lines = (
        f"cafile {tmp_path}/ca.crt", f"certfile {tmp_path}/broker.crt", f"keyfile {tmp_path}/broker.key",
        "require_certificate true", "allow_anonymous true",
    )  # fmt: skip
    async with mosquitto(tmp_path, lines, tls=True, ca_file=tmp_path / "ca.crt") as broker:
        address = broker.address
        if shown is not None:
            address = replace(address, certificate=tmp_path / f"{shown}.crt", key=tmp_path / f"{shown}.key")
        with pytest.raises(LinkError, match=why):
            async with connect(address):
                pass
