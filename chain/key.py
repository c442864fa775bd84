"""A private key, of a bay or of an office: made once, for its owner's eyes only (PEM, PKCS #8, RFC 8410)."""

from __future__ import annotations

import os
from pathlib import Path

from chain.errors import KeyFileError
from chain.signing import Signer
from config.synced import sync_folder

MODE = 0o600
_OTHERS = 0o077
LARGEST = 10_000
"""Bytes; such a file has 119."""


def read_or_make(path: Path) -> Signer:
    """The key in a file, which is made where there is none. Raises KeyFileError; a file that is there is
    never changed."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    if not path.exists():
        try:
            return _made(path)
        except OSError as error:
            if not path.exists():  # else another one was quicker
                raise KeyFileError(
                    f"{path}: the key cannot be made ({error.strerror}); make its folder one that may be "
                    "written in, or name another file (a bay's: [journal] key)"
                ) from error
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        with path.open("rb") as file:
            said = file.read(LARGEST)
        private = load_pem_private_key(said, None)
    except OSError as error:
        raise KeyFileError(
            f"{path}: the key cannot be read ({error.strerror}); give it to the user that signs"
        ) from error
    except (ValueError, TypeError, UnsupportedAlgorithm):
        private = None
    if not isinstance(private, Ed25519PrivateKey):
        raise KeyFileError(
            f"{path}: no Ed25519 key in PEM; put the bay's key back from where you keep it, or move this "
            "file away: the bay then makes a new one, and begins a new chain"
        )
    return Signer(private)


def is_open_to_others(path: Path) -> bool:
    """Whether anyone but its owner may read or write it."""
    return bool(path.stat().st_mode & _OTHERS)


def _made(path: Path) -> Signer:
    """Under another name first: killed meanwhile, it leaves no half a key."""
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    private = Ed25519PrivateKey.generate()
    said = private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_name(f".{path.name}.{os.getpid()}")
    partial.unlink(missing_ok=True)
    try:
        with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, MODE), "wb") as file:
            file.write(said)
            file.flush()
            os.fsync(file.fileno())
        os.link(partial, path)
    finally:
        partial.unlink(missing_ok=True)
    sync_folder(path.parent)
    return Signer(private)
