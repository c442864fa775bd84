"""A message as it came, read: a result, a record of a chain, a checkpoint, or why it is none of them.

Pure: what only the other messages of its bay can tell, `proving` and `filing` look at.
"""

from __future__ import annotations

import re
from datetime import datetime
from functools import lru_cache
from hashlib import sha256
from typing import Annotated, Any, Literal, TypeVar

import msgspec
from isal import isal_zlib
from pydantic_core import from_json

from chain.errors import AlteredError
from chain.signing import plain_checkpoint, plain_result, unproven_checkpoint, unproven_record
from contract.chain import CHECKPOINT_SCHEMA, RECORD_SCHEMA, ChainBegun, ChainResult, Checkpoint
from contract.topics import TOPIC_ROOT

RESULT_SCHEMA = "ringtrue/result/1"

Reason = Literal[
    "malformed", "newer", "topic", "altered", "other-key", "unknown-bay", "contradicted", "forked", "unfit"
]
"""Why a message is refused: it is no message of ours; its schema is of a later version than this writer's;
its topic names another bay, or inspection, than it does; its signature does not hold; another key than its
bay's signed it; the bay is none that is known; its bay's chain, or a result that came before, says otherwise;
its place in the chain is taken; the database takes no such row."""

Bay = tuple[str, str]
Chain = tuple[str, str, str]
"""Site, bay, chain."""
Key = tuple[str, str, str, int]
"""Site, bay, inspection, revision: an inspection's name is its bay's own."""


class Refused(msgspec.Struct, frozen=True, gc=False):
    """A message that is not taken, and why."""

    topic: str
    payload: bytes
    reason: Reason
    why: str


class Document(msgspec.Struct, frozen=True, gc=False):
    """A result document. packed: compressed; said: what stands in columns."""

    topic: str
    payload: bytes
    bay: Bay
    packed: bytes
    sha256: str
    key: Key
    said: Judged


class Named(msgspec.Struct, frozen=True, gc=False):
    """What a record says that names a result's document: of `contract.chain.ChainResult` what a writer looks
    at."""

    site: str
    bay: str
    chain: str
    time: str
    key: str
    signature: str
    index: int
    previous: str
    inspection: str
    revision: int
    document_sha256: str
    later: bool


class Record(msgspec.Struct, frozen=True, gc=False):
    """A record of a chain. Whether its signature holds, `proving` finds: of many at once. result: which it
    names."""

    topic: str
    payload: bytes
    bay: Bay
    sha256: str
    chain: Chain
    result: Key | None
    said: ChainBegun | Named


class Point(msgspec.Struct, frozen=True, gc=False):
    """What a checkpoint says: of `contract.chain.Checkpoint` what a writer looks at."""

    site: str
    bay: str
    chain: str
    key: str
    signature: str
    size: int
    root: str


class Told(msgspec.Struct, frozen=True, gc=False):
    """A checkpoint. is_proven: its signature holds for the key that it names; else that is found where it
    says something that no other does."""

    topic: str
    payload: bytes
    bay: Bay
    chain: Chain
    said: Point
    is_proven: bool = False


Said = TypeVar("Said", Named, Point)
Read = Refused | Document | Record | Told


class _Part(msgspec.Struct, gc=False):
    """Of a JSON object these keys; others may be there."""


class _Serial(_Part):
    serial: str


class _Method(_Part):
    id: str
    version: str
    sha256: str


class _Gauge(_Part):
    id: str


class Figures(_Part):
    """What a check says in columns; `true` is what is decided."""

    outcome: str
    limit_mm: float | None = None
    tir_mm: float | None = None
    spread_mm: float | None = None
    true_tir_mm: float | None = None
    true_spread_mm: float | None = None
    u_expanded_mm: float | None = None
    p_over: float | None = None
    gauge: _Gauge | None = None


_Moment = Annotated[datetime, msgspec.Meta(tz=True)]


class Judged(_Part):
    """What of a result stands in columns; anything else in it may change from version to version."""

    inspection: Annotated[str, msgspec.Meta(min_length=1)]
    revision: Annotated[int, msgspec.Meta(ge=0, lt=2**31)]
    state: str
    site: str
    bay: str
    engine: _Serial
    damper: _Serial
    opened: _Moment
    method: _Method
    checks: dict[str, Figures]
    verdict: str
    software: str
    closed: _Moment | None = None
    decision: str | None = None


def read(topic: str, payload: bytes) -> Read:
    """What it is."""
    kind, bay, inspection = (_known_under if len(topic) < KNOWN_MAX else _under)(topic)
    if kind == "result":
        return _document(topic, payload, bay, inspection)
    if kind == "chain":
        return _record(topic, payload, bay)
    if kind == "checkpoint":
        return _checkpoint(topic, payload, bay)
    return Refused(topic, payload, "topic", "no topic that a bay's results, chain or checkpoint come under")


def _under(topic: str) -> tuple[Literal["result", "chain", "checkpoint", ""], Bay, str]:
    """What comes under it, of which bay, of which inspection."""
    match topic.removeprefix(f"{TOPIC_ROOT}/").split("/"):
        case [site, bay, "inspection", inspection, "result"]:
            return "result", (site, bay), inspection
        case [site, bay, ("chain" | "checkpoint") as kind]:
            return kind, (site, bay), ""
    return "", ("", ""), ""


_known_under = lru_cache(maxsize=4000)(_under)
KNOWN_MAX = 200
"""Letters of a topic that is remembered, as those of a bay come again and again."""


def pack(payload: bytes) -> bytes:
    """As it is stored (zlib, RFC 1950): a third of the cost of zlib's own level 1, and no larger."""
    return isal_zlib.compress(payload, 1)


def _document(topic: str, payload: bytes, bay: Bay, inspection: str) -> Read:
    if not payload.startswith(_OURS) and (found := _other_schema(topic, payload, RESULT_SCHEMA)) is not None:
        return found
    try:
        if not payload.isascii():
            payload.decode()  # all of it: the decoder does not look at what it leaves out
        said = _JUDGED.decode(payload)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        return Refused(topic, payload, "malformed", str(error))
    if said.inspection != inspection or (said.site, said.bay) != bay:
        return _elsewhere(topic, payload, f"{said.site}/{said.bay}, {said.inspection}")
    if b"\\" in payload and b"\\u0000" in payload and _NUL.search(payload):
        return Refused(topic, payload, "malformed", "a letter that is none (U+0000)")
    key = (*bay, inspection, said.revision)
    return Document(topic, payload, bay, pack(payload), sha256(payload).hexdigest(), key, said)


def _record(topic: str, payload: bytes, bay: Bay) -> Read:
    said: ChainBegun | Named
    if plain_result().fullmatch(payload):
        said = _NAMED.decode(payload)
    else:
        try:
            found = unproven_record(payload)
        except AlteredError as error:
            return _other_schema(topic, payload, RECORD_SCHEMA) or Refused(
                topic, payload, "altered", str(error)
            )
        said = found if isinstance(found, ChainBegun) else _the_same(found, Named)
    if (said.site, said.bay) != bay:
        return _elsewhere(topic, payload, f"{said.site}/{said.bay}")
    result = None if isinstance(said, ChainBegun) else (*bay, said.inspection, said.revision)
    return Record(topic, payload, bay, sha256(payload).hexdigest(), (*bay, said.chain), result, said)


def _checkpoint(topic: str, payload: bytes, bay: Bay) -> Read:
    if plain_checkpoint().fullmatch(payload):
        said = _POINT.decode(payload)
    else:
        try:
            said = _the_same(unproven_checkpoint(payload), Point)
        except AlteredError as error:
            return _other_schema(topic, payload, CHECKPOINT_SCHEMA) or Refused(
                topic, payload, "altered", str(error)
            )
    if (said.site, said.bay) != bay:
        return _elsewhere(topic, payload, f"{said.site}/{said.bay}")
    return Told(topic, payload, bay, (*bay, said.chain), said)


def _other_schema(topic: str, payload: bytes, known: str) -> Refused | None:
    """Where it is not of the schema that we know: of a later version, or none of ours."""
    schema = _schema(payload)
    if schema == known:
        return None
    kind, _, version = known.rpartition("/")
    later = re.fullmatch(rf"{re.escape(kind)}/(\d{{1,6}})", schema or "")
    if later and int(later[1]) > int(version):
        why = f"{schema}, and this writer knows {known}: ringtrue is newer there"
        return Refused(topic, payload, "newer", why)
    found = "no JSON object with a schema" if schema is None else f"schema {schema[:60]!r}"
    return Refused(topic, payload, "malformed", f"{found}; {known} is expected under this topic")


def _elsewhere(topic: str, payload: bytes, said: str) -> Refused:
    return Refused(topic, payload, "topic", f"it says that it is of {said[:200]!r}")


def _the_same(found: ChainResult | Checkpoint, kind: type[Said]) -> Said:
    return msgspec.convert(found, kind, from_attributes=True)


_OURS = f'{{"schema":"{RESULT_SCHEMA}",'.encode(), f'{{"schema":"{RESULT_SCHEMA}"}}'.encode()
"""How our own documents begin."""
_JUDGED = msgspec.json.Decoder(Judged)
_NAMED, _POINT = msgspec.json.Decoder(Named), msgspec.json.Decoder(Point)
_NUL = re.compile(rb"(?<!\\)(?:\\\\)*\\u0000")
"""In JSON; after a backslash that is itself escaped it is six plain letters."""
_SCHEMA = re.compile(rb'\A\{"schema":"([a-z/0-9]+)"[,}]')


def _schema(payload: bytes) -> str | None:
    """Of a JSON object; None where it is none, or says none."""
    if (said := _SCHEMA.match(payload)) is not None:  # as ours begin, of any version
        return said[1].decode()
    try:
        found: Any = from_json(payload)
    except ValueError:
        return None
    schema = found.get("schema") if isinstance(found, dict) else None
    return schema if isinstance(schema, str) else None
