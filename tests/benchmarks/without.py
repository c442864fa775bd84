"""What a record writer does, with something of it left out: the floors that it is held against.

The floor itself is the very same bytes as they came in batched inserts. Then: that with what is asked for
besides, each signature verified and each document parsed once, message by message; every row that is kept, as
bytes, without columns, indexes, or looking at what is there; and without a database at all the signatures
alone, documents unpacked and parsed alone, and what a writer reads and verifies.
"""

from __future__ import annotations

import json
import time
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cache
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Any

import psycopg
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from chain.signing import canonical, read_checkpoint, read_record
from records.fleet.arriving import BATCH_MAX
from records.fleet.partitions import month_of
from records.fleet.proving import prove
from records.fleet.reading import Document, Record, Told, read
from records.fleet.rows import Values, chain_row, checkpoint_row, result_row
from tests.parts.issuing import IssuingBay, Message
from tests.records.reported import RESULT

EACH = 100
"""Results of each bay."""
NOW = datetime(2026, 11, 26, 6, tzinfo=UTC)
INSPECTION = Path(__file__).with_name("inspection.jsonl").read_text().splitlines()
FIGURES = {"tir_mm", "spread_mm", "true_tir_mm", "true_spread_mm", "u_expanded_mm", "p_over"}
RAW = """
CREATE TABLE raw (topic text, sha256 text, payload bytea, PRIMARY KEY (sha256, topic));
ALTER TABLE raw ALTER COLUMN payload SET STORAGE EXTERNAL;
"""


Part = tuple[str, tuple[int, ...]]
"""The database's address, and which bays."""
Span = tuple[float, float, float]
"""Begin, end, processor time of this process, s."""
Work = Callable[[Part], Span]


@contextmanager
def timed() -> Iterator[list[float]]:
    """A span, once the block has ended."""
    span: list[float] = []
    begin, busy_s = time.monotonic(), time.process_time()
    yield span
    span += begin, time.monotonic(), time.process_time() - busy_s


def all_of_it(part: Part) -> Span:
    """The floor."""
    url, bays = part
    return _insert(url, batched(issued(bays)))


def filing(part: Part) -> Span:
    """The floor, and what is asked for besides, as plainly as can be."""
    url, bays = part
    return _insert(url, batched(issued(bays)), _proven)


def _proven(topic: str, payload: bytes) -> None:
    if topic.endswith("/chain"):
        read_record(payload)
    elif topic.endswith("/checkpoint"):
        read_checkpoint(payload)
    else:
        json.loads(payload)


def columns(part: Part) -> Span:
    """Every row that is kept of the same messages, as bytes."""
    url, bays = part
    return _insert(url, [list(_kept(batch)) for batch in batched(issued(bays))])


def _insert(
    url: str, batches: Sequence[Sequence[Message]], first: Callable[[str, bytes], None] | None = None
) -> Span:
    with psycopg.connect(plain(url)) as connection, connection.cursor() as cursor, timed() as span:
        for batch in batches:
            if first is not None:
                for message in batch:
                    first(*message)
            cursor.executemany(
                "INSERT INTO raw VALUES (%s, %s, %s) ON CONFLICT DO NOTHING",
                [(topic, sha256(payload).hexdigest(), payload) for topic, payload in batch],
            )
            connection.commit()
    return whole(span)


def whole(span: list[float]) -> Span:
    """Of `timed`."""
    begin, end, busy_s = span
    return begin, end, busy_s


def _kept(batch: Sequence[Message]) -> Iterator[Message]:
    for topic, payload in batch:
        for n, row in enumerate(_columns(topic, payload)):
            said = (value if isinstance(value, bytes) else str(value).encode() for value in row)
            yield f"{n}/{topic}", b"".join(said)


def _columns(topic: str, payload: bytes) -> list[Values]:
    match read(topic, payload):
        case Document() as one:
            month = month_of(one.said.opened, NOW)
            return [result_row(one, month)]
        case Record() as one:
            return [chain_row(one)]
        case Told() as one:
            return [tuple(checkpoint_row(one).values())]
    raise AssertionError


def database(part: Part) -> Span:
    """What a writer does before it comes to the database."""
    batches = batched(issued(part[1]))
    with timed() as span:
        for batch in batches:
            prove([read(*message) for message in batch])
    return whole(span)


def all_but_signatures(part: Part) -> Span:
    """Two Ed25519 signatures of each result, and nothing but them."""
    signed = [_signed(json.loads(m)) for topic, m in issued(part[1]) if not topic.endswith("/result")]
    with timed() as span:
        for key, signature, form in signed:
            key.verify(signature, form)
    return whole(span)


def _signed(fields: dict[str, Any]) -> tuple[Ed25519PublicKey, bytes, bytes]:
    signature = bytes.fromhex(fields.pop("signature"))
    return Ed25519PublicKey.from_public_bytes(bytes.fromhex(fields["key"])), signature, canonical(fields)


def all_but_documents(part: Part) -> Span:
    """Each document unpacked and parsed."""
    packed = [zlib.compress(m, 1) for topic, m in issued(part[1]) if topic.endswith("/result")]
    with timed() as span:
        for one in packed:
            json.loads(zlib.decompress(one))
    return whole(span)


@cache
def issued(bays: tuple[int, ...]) -> list[Message]:
    """The messages of these bays, as a broker hands them out: each bay's in order, all bays by turns."""
    issuing = [(IssuingBay(f"bay-{n}"), Random(n)) for n in bays]
    return [
        one
        for n in range(EACH)
        for bay, chance in issuing
        for one in bay.issue(
            f"truck-{n // len(INSPECTION)}", **_said(INSPECTION[n % len(INSPECTION)], chance)
        )
    ]


def _said(document: str, chance: Random) -> dict[str, Any]:
    """A document's own, with figures that no other has."""
    said = dict.fromkeys(RESULT) | json.loads(document)
    for check in said["checks"].values():
        check |= {name: round(check[name] + chance.random() / 1000, 6) for name in FIGURES & check.keys()}
    return {key: value for key, value in said.items() if key not in {"inspection", "site", "bay"}}


def batched(messages: list[Message]) -> list[list[Message]]:
    """As a source gathers them."""
    return [messages[n : n + BATCH_MAX] for n in range(0, len(messages), BATCH_MAX)]


def plain(url: str) -> str:
    """As the driver itself has it."""
    return url.replace("+psycopg", "")
