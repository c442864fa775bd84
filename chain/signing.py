"""One form for each message (RFC 8785), and the signature in it (Ed25519, RFC 8032)."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from functools import cache
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

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
        return _PLAIN.encode(fields).encode()
    import rfc8785

    return bytes(rfc8785.dumps(dict(fields)))


_PLAIN = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False)
_SAFE = frozenset((str, bool, type(None)))


def _is_plain(fields: Mapping[Any, Any]) -> bool:
    """Whether Python's own JSON, keys sorted, is the one form, in a tenth of the time: of numbers it holds
    small whole ones only, and of keys those whose order is the same by letters and by UTF-16."""
    for key, value in fields.items():
        if not (type(key) is str and key.isascii() and (type(value) in _SAFE or _is_safe(value))):
            return False
    return True


def _is_safe(value: Any) -> bool:
    kind = type(value)
    if kind is int:
        return bool(-(2**53) < value < 2**53)
    if kind is dict:
        return _is_plain(value)
    return kind in _SAFE or (kind is list and all(map(_is_safe, value)))


def digest(message: bytes) -> str:
    """SHA-256, hex, as `sha256sum` gives it."""
    return hashlib.sha256(message).hexdigest()


def read_record(message: bytes) -> ChainBegun | ChainResult:
    """A chain's record, whose signature holds for the key that it names. Raises AlteredError."""
    record = unproven_record(message)
    refuse_unless_holds(message, record)
    return record


def read_checkpoint(message: bytes) -> Checkpoint:
    """A checkpoint whose signature holds for the key that it names. Raises AlteredError."""
    checkpoint = unproven_checkpoint(message)
    refuse_unless_holds(message, checkpoint)
    return checkpoint


def unproven_record(message: bytes) -> ChainBegun | ChainResult:
    """A chain's record in its one form; whether its signature holds is not looked at. Raises AlteredError."""
    return _said(RECORD, plain_result(), message)


def unproven_checkpoint(message: bytes) -> Checkpoint:
    """A checkpoint in its one form; whether its signature holds is not looked at. Raises AlteredError."""
    return _said(_CHECKPOINT, plain_checkpoint(), message)


Said = TypeVar("Said")


def _said(model: TypeAdapter[Said], plain: re.Pattern[bytes], message: bytes) -> Said:
    try:
        if plain.fullmatch(message):
            return model.validate_json(message)
        return model.validate_python(read_fields(message))
    except ValidationError as error:
        raise AlteredError(first_mistake(error)) from None


@cache
def plain_result() -> re.Pattern[bytes]:
    """What a record of a result looks like that is surely one, and in its one form."""
    return _plain(ChainResult)


@cache
def plain_checkpoint() -> re.Pattern[bytes]:
    """What a checkpoint looks like that is surely one, and in its one form."""
    return _plain(Checkpoint)


def _plain(model: type[BaseModel]) -> re.Pattern[bytes]:
    """What such a message looks like that is surely good and in its one form: its own keys and no other, in
    order, and values that the model takes, of text only such without any letter that JSON escapes, of whole
    numbers small ones. What looks otherwise is held against model and form, at several times the cost."""
    fields = model.model_json_schema()["properties"]
    members = ",".join(f'"{name}":{_plain_value(fields[name])}' for name in sorted(fields))
    return re.compile(rf"\{{{members}\}}".encode())


def _plain_value(field: Mapping[str, Any]) -> str:
    """field: its JSON Schema."""
    match field:
        case {"anyOf": ways}:
            return rf"(?:{'|'.join(map(_plain_value, ways))})"
        case {"const": text}:
            return re.escape(json.dumps(text))
        case {"pattern": pattern}:
            return f'"{pattern.removeprefix("^").removesuffix("$")}"'
        case {"type": "string"}:
            return r'"[ !#-\[\]-~]*"'
        case {"type": "integer", "minimum": 0}:
            return r"(?:0|[1-9][0-9]{0,14})"
        case {"type": "integer", "minimum": 1}:
            return r"[1-9][0-9]{0,14}"
        case {"type": "boolean"}:
            return r"(?:true|false)"
    raise NotImplementedError(f"no plain form is known of {field}")


_CHECKPOINT = TypeAdapter(Checkpoint)


Holds = Callable[[bytes, bytes, bytes], bool]
"""Whether a public key's signature holds for these bytes."""


def holds(key: bytes, signature: bytes, signed: bytes) -> bool:
    """Ed25519 (RFC 8032)."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, signed)
    except (InvalidSignature, ValueError):
        return False
    return True


class Signed(Protocol):
    """What a signed message says of its signature (hex)."""

    @property
    def key(self) -> str: ...
    @property
    def signature(self) -> str: ...


def refuse_unless_holds(message: bytes, said: Signed, how: Holds = holds) -> None:
    """Raise AlteredError where the signature of a message, which is in its one form and says this, does not
    hold for the key that it names. how: what tells that, `holds` or its equal."""
    # What was signed is the form without the signature: so many bytes of this very message left out. Within
    # a string its quotation marks would stand after a backslash.
    member = f',"signature":"{said.signature}"'.encode()
    before, found, after = message.partition(member)
    if found and member not in after:
        _refuse_unless(said.key, said.signature, before + after, how)
    else:
        refuse_unless_signed(json.loads(message))


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
    said = {key: value for key, value in fields.items() if key != "signature"}
    try:
        form = canonical(said)
    except ValueError:
        raise AlteredError("its signature does not hold") from None
    _refuse_unless(fields["key"], fields["signature"], form, holds)


def _refuse_unless(key: str, signature: str, form: bytes, how: Holds) -> None:
    try:
        is_good = how(bytes.fromhex(key), bytes.fromhex(signature), form)
    except ValueError:
        is_good = False
    if not is_good:
        raise AlteredError("its signature does not hold")


def first_mistake(error: ValidationError) -> str:
    """Where it is, and what."""
    first = error.errors()[0]
    return f"{'.'.join(str(part) for part in first['loc']) or 'it'}: {first['msg']}"
