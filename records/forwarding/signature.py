"""HTTP message signatures (RFC 9421) by a shared secret, over a digest of the content (RFC 9530)."""

from __future__ import annotations

import base64
import hmac
from collections.abc import Iterable, Mapping
from hashlib import sha256

LABEL = "ringtrue"


def signed(
    url: str, content_type: str, content: bytes, *, secret: bytes, key_id: str, at: int
) -> dict[str, str]:
    """The header fields of a signed POST. key_id: which secret, for a receiver that has several. at: now,
    seconds of POSIX time, so that a receiver can refuse what is old."""
    digest = f"sha-256=:{base64.b64encode(sha256(content).digest()).decode()}:"
    covered = {"@method": "POST", "@target-uri": url, "content-type": content_type, "content-digest": digest}
    parameters = f';created={at};keyid="{key_id}";alg="hmac-sha256"'
    said = f"{named(covered)}{parameters}"
    return {
        "Content-Type": content_type,
        "Content-Digest": digest,
        "Signature-Input": f"{LABEL}={said}",
        "Signature": f"{LABEL}=:{mac(base(covered, parameters), secret)}:",
    }


def base(covered: Mapping[str, str], parameters: str) -> bytes:
    """What is signed (RFC 9421, 2.5): a line for each component, then the parameters."""
    lines = [f'"{name}": {value}' for name, value in covered.items()]
    return "\n".join([*lines, f'"@signature-params": {named(covered)}{parameters}']).encode()


def mac(message: bytes, secret: bytes) -> str:
    """HMAC by SHA-256 (RFC 9421, 3.3.3), in base64."""
    return base64.b64encode(hmac.digest(secret, message, sha256)).decode()


def named(covered: Iterable[str]) -> str:
    """The list of what is covered."""
    return "(" + " ".join(f'"{name}"' for name in covered) + ")"
