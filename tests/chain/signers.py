"""Keys that follow from a name, so that what they sign is the same each time."""

from __future__ import annotations

import hashlib

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from chain.signing import Signer


def signer(name: str) -> Signer:
    return Signer(Ed25519PrivateKey.from_private_bytes(hashlib.sha256(name.encode()).digest()))
