"""Results a second of many bays into PostgreSQL, by one writer and by two.

Ours: what a writer does with a batch of messages: a result, its record and its checkpoint read, both
signatures and all hashes verified, the document compressed, its figures in columns, the chain walked on, one
transaction; the next batch is read meanwhile. A backlog is there, so that batches are full. Against the very
same bytes as they came in batched inserts, as many rows a commit, into one table with a key, by one process
and by two: that is the aim's floor. Beside it two others, which are not. Raw rows: every row that is kept of
a result (its revision, its result, one for each check, record and checkpoint; what was walked is left out),
its columns put together beforehand, batched likewise into that same table: what they cost without columns,
indexes, looking at what is there, or verifying. And the messages read and verified alone, without a database:
the signatures of a record and a checkpoint by themselves take longer than the first floor does for all of a
result. The documents are small ones, of less than 3 kB: larger ones make the first floor slower and us less.
On a disk that is waited for. All by turns, in one run.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from multiprocessing import get_context

import psycopg

from config.writer import BaysSettings
from records.fleet.arriving import BATCH_MAX
from records.fleet.bays import Bays
from records.fleet.database import Fleet
from records.fleet.fetching import Fetching
from records.fleet.filing import Filing
from records.fleet.partitions import month_of
from records.fleet.reading import Document, Record, Told, read
from records.fleet.rows import Row as Columns
from records.fleet.rows import chain_row, check_rows, checkpoint_row, result_row, revision_row
from records.fleet.writing import Writer
from tests.benchmarks.table import Figure, Row
from tests.parts.issuing import IssuingBay, Message
from tests.parts.postgres import server

BAYS, EACH, REPEATS = 40, 15, 3
NOW = datetime(2026, 11, 26, 6, tzinfo=UTC)
# The aim that was set; what is reached, and why, is told where the table is kept (docs/fleet/writer.md).
AIM = 0.7
RATE = "{:,.0f}/s"
RAW = """
CREATE TABLE raw (topic text, sha256 text, payload bytea, PRIMARY KEY (sha256, topic));
ALTER TABLE raw ALTER COLUMN payload SET STORAGE EXTERNAL;
"""


def measure() -> list[Row]:
    """All of it."""
    rates: dict[str, list[float]] = {}
    with server(durable=True) as postgres, ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        list(pool.map(issued, [(0,), (0,)]))  # what is imported, is
        for repeat in range(REPEATS):
            for writers in (1, 2):
                shares = [tuple(range(n, BAYS, writers)) for n in range(writers)]
                for what, work in (("raw", insert), ("rows", insert_rows)):
                    url = postgres.make(f"{what}_{repeat}_{writers}")
                    with psycopg.connect(plain(url)) as connection:
                        connection.execute(RAW)
                    rates.setdefault(f"{what} {writers}", []).append(together(pool, work, url, shares))
                url = postgres.make(f"filed_{repeat}_{writers}")
                with closing(Fleet(url)) as fleet:
                    fleet.prepare()
                rates.setdefault(f"filed {writers}", []).append(together(pool, file, url, shares))
                rates.setdefault(f"read {writers}", []).append(together(pool, only_read, url, shares))
    return [row for writers in (1, 2) for row in _rows(rates, writers)]


def _rows(rates: dict[str, list[float]], writers: int) -> list[Row]:
    raw, rows, ours, only = (
        Figure(tuple(rates[f"{what} {writers}"]), RATE) for what in ("raw", "rows", "filed", "read")
    )
    by = "1 writer" if writers == 1 else f"{writers} writers"
    ratio = ours.median / raw.median
    return [
        Row(
            f"results into PostgreSQL, {by}", "raw batched insert", raw, ours, ratio,
            f"≥ {AIM}", is_met=ratio >= AIM,
        ),
        Row(f"the same, {by}", "raw rows, as many as are kept", rows, ours, ours.median / rows.median),
        Row(f"the same, {by}", "read and verified alone", only, ours, ours.median / only.median),
    ]  # fmt: skip


Work = Callable[[tuple[str, tuple[int, ...]]], tuple[float, float]]


def together(pool: ProcessPoolExecutor, work: Work, url: str, shares: Sequence[tuple[int, ...]]) -> float:
    """Results a second of all of them, from the first to begin until the last to end."""
    spans = list(pool.map(work, [(url, share) for share in shares]))
    return BAYS * EACH / (max(end for _, end in spans) - min(begin for begin, _ in spans))


def insert(part: tuple[str, tuple[int, ...]]) -> tuple[float, float]:
    """The floor."""
    url, bays = part
    return _insert(url, batched(issued(bays)))


def insert_rows(part: tuple[str, tuple[int, ...]]) -> tuple[float, float]:
    """Every row that is kept of the same messages, as bytes."""
    url, bays = part
    return _insert(url, [list(_kept(batch)) for batch in batched(issued(bays))])


def _insert(url: str, batches: Sequence[Sequence[Message]]) -> tuple[float, float]:
    with psycopg.connect(plain(url)) as connection, connection.cursor() as cursor:
        begin = time.monotonic()
        for batch in batches:
            cursor.executemany(
                "INSERT INTO raw VALUES (%s, %s, %s) ON CONFLICT DO NOTHING",
                [(topic, sha256(payload).hexdigest(), payload) for topic, payload in batch],
            )
            connection.commit()
        return begin, time.monotonic()


def _kept(batch: Sequence[Message]) -> Iterator[Message]:
    for topic, payload in batch:
        for n, row in enumerate(_columns(topic, payload)):
            said = (value if isinstance(value, bytes) else str(value).encode() for value in row.values())
            yield f"{n}/{topic}", b"".join(said)


def _columns(topic: str, payload: bytes) -> list[Columns]:
    match read(topic, payload):
        case Document() as one:
            month = month_of(one.said.opened, NOW)
            return [revision_row(one, month), result_row(one, month), *check_rows(one, month)]
        case Record() as one:
            return [chain_row(one)]
        case Told() as one:
            return [checkpoint_row(one)]
    raise AssertionError


def file(part: tuple[str, tuple[int, ...]]) -> tuple[float, float]:
    """Ours."""
    url, bays = part
    batches = batched(issued(bays))
    with closing(Fleet(url)) as fleet:
        filing = Filing(fleet, Bays(BaysSettings()), lambda: NOW)
        filing.file([])
        backlog = Backlog(batches)
        begin = time.monotonic()
        asyncio.run(backlog.written(filing, fleet))
        end = time.monotonic()
        with fleet.transaction() as connection:
            (filed,) = connection.exec_driver_sql(
                "SELECT count(*) FROM fleet_revisions WHERE bay = ANY(%s)", ([f"bay-{n}" for n in bays],)
            ).one()
    assert filed == len(bays) * EACH
    return begin, end


@dataclass
class Backlog:
    """A source that has all of it already, and ends its writer when all of it is taken."""

    left: list[list[Message]]

    async def written(self, filing: Filing, fleet: Fleet) -> None:
        self._writer = Writer(self, filing, Fetching(fleet, self))
        self._taken, self._all = 0, len(self.left)
        await self._writer.run()

    async def batches(self) -> AsyncIterator[Waiting]:
        for messages in self.left:
            yield Waiting(messages, self)
        await asyncio.Event().wait()

    async def ask(self, topic: str, payload: bytes) -> bool:
        raise AssertionError

    def taken(self) -> None:
        self._taken += 1
        if self._taken == self._all:
            self._writer.leave()


@dataclass
class Waiting:
    """A batch of it."""

    messages: list[Message]
    of: Backlog

    async def taken(self) -> None:
        self.of.taken()


def only_read(part: tuple[str, tuple[int, ...]]) -> tuple[float, float]:
    """What is no database."""
    messages = issued(part[1])
    begin = time.monotonic()
    for topic, payload in messages:
        read(topic, payload)
    return begin, time.monotonic()


def issued(bays: Sequence[int]) -> list[Message]:
    """The messages of these bays, as a broker hands them out: each bay's in order, all bays by turns."""
    issuing = [IssuingBay(f"bay-{n}") for n in bays]
    return [one for n in range(EACH) for bay in issuing for one in bay.issue(f"truck-{n}")]


def batched(messages: list[Message]) -> list[list[Message]]:
    """As a source gathers them."""
    return [messages[n : n + BATCH_MAX] for n in range(0, len(messages), BATCH_MAX)]


def plain(url: str) -> str:
    """As the driver itself has it."""
    return url.replace("+psycopg", "")
