"""One form for each message (RFC 8785), and the signature in it (Ed25519, RFC 8032)."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Protocol

from pydantic import ValidationError

from chain.errors import AlteredError
from contract.chain import RECORD, ChainBegun, ChainResult, Checkpoint

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

Fields = Mapping[str, Any]


class Signing(Protocol):
    """Signs for one bay."""

    @property
    def public_key(self) -> str:
        """Hex."""

    def signed(self, fields: Fields) -> bytes:
        """The message with these keys, `key` and `signature`; the same fields give the same bytes."""


class Signer:
    """With one private key."""

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private
        self._public = private.public_key().public_bytes_raw().hex()

    @property
    def public_key(self) -> str:
        return self._public

    def signed(self, fields: Fields) -> bytes:
        said = {**fields, "key": self._public}
        return canonical({**said, "signature": self._private.sign(canonical(said)).hex()})


def canonical(fields: Fields) -> bytes:
    """The one form of a JSON object (RFC 8785). Raises ValueError where it has none."""
    if _is_plain(fields):
        return json.dumps(fields, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    import rfc8785

    return bytes(rfc8785.dumps(dict(fields)))


def _is_plain(value: Any) -> bool:
    """Whether Python's own JSON, keys sorted, is the one form, in a tenth of the time: of numbers it holds
    small whole ones only, and of keys those whose order is the same by letters and by UTF-16."""
    kind = type(value)
    if kind is dict:
        return all(type(key) is str and key.isascii() for key in value) and all(
            map(_is_plain, value.values())
        )
    if kind is list:
        return all(map(_is_plain, value))
    return kind is str or kind is bool or value is None or (kind is int and abs(value) < 2**53)


def digest(message: bytes) -> str:
    """SHA-256, hex, as `sha256sum` gives it."""
    return hashlib.sha256(message).hexdigest()


def read_record(message: bytes) -> ChainBegun | ChainResult:
    """A chain's record, whose signature holds for the key that it names. Raises AlteredError."""
    fields = read_fields(message)
    try:
        record = RECORD.validate_python(fields)
    except ValidationError as error:
        raise AlteredError(first_mistake(error)) from None
    refuse_unless_signed(fields)
    return record


def read_checkpoint(message: bytes) -> Checkpoint:
    """A checkpoint whose signature holds for the key that it names. Raises AlteredError."""
    fields = read_fields(message)
    try:
        checkpoint = Checkpoint.model_validate(fields)
    except ValidationError as error:
        raise AlteredError(first_mistake(error)) from None
    refuse_unless_signed(fields)
    return checkpoint


def read_fields(message: bytes) -> dict[str, Any]:
    """The keys of a message in its one form. Raises AlteredError."""
    try:
        fields = json.loads(message)
        is_in_form = isinstance(fields, dict) and canonical(fields) == message
    except (ValueError, RecursionError):
        is_in_form = False
    if not is_in_form:
        raise AlteredError("it is not in the form in which it was signed")
    return dict(fields)


def refuse_unless_signed(fields: Fields) -> None:
    """Raise AlteredError where the signature does not hold for the key that they name."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    said = {key: value for key, value in fields.items() if key != "signature"}
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(fields["key"]))
        key.verify(bytes.fromhex(fields["signature"]), canonical(said))
    except (InvalidSignature, ValueError):
        raise AlteredError("its signature does not hold") from None


def first_mistake(error: ValidationError) -> str:
    """Where it is, and what."""
    first = error.errors()[0]
    return f"{'.'.join(str(part) for part in first['loc']) or 'it'}: {first['msg']}"
