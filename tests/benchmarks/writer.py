"""Results a second of many bays into PostgreSQL, by one writer and by two.

Ours: what a writer does with a batch of messages: a result, its record and its checkpoint read, both
signatures and all hashes verified, the document compressed, its figures in columns, the chain walked on, one
transaction. Against the very same bytes in batched inserts, 50 rows a commit, into one table with a key, by
one process and by two. Beside it, what of that is no database at all: the messages read and verified, which
no writer can do without. On a disk that is waited for. All by turns, in one run.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from multiprocessing import get_context

import psycopg

from config.writer import BaysSettings
from records.fleet.arriving import BATCH_MAX
from records.fleet.bays import Bays
from records.fleet.database import Fleet
from records.fleet.filing import Filing
from records.fleet.reading import read
from tests.benchmarks.table import Figure, Row
from tests.parts.issuing import IssuingBay, Message
from tests.parts.postgres import server

BAYS, EACH, REPEATS = 40, 10, 3
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
                url = postgres.make(f"raw_{repeat}_{writers}")
                with psycopg.connect(plain(url)) as connection:
                    connection.execute(RAW)
                rates.setdefault(f"raw {writers}", []).append(together(pool, insert, url, shares))
                url = postgres.make(f"filed_{repeat}_{writers}")
                with closing(Fleet(url)) as fleet:
                    fleet.prepare()
                rates.setdefault(f"filed {writers}", []).append(together(pool, file, url, shares))
                rates.setdefault(f"read {writers}", []).append(together(pool, only_read, url, shares))
    return [row for writers in (1, 2) for row in _rows(rates, writers)]


def _rows(rates: dict[str, list[float]], writers: int) -> list[Row]:
    raw, ours, only = (Figure(tuple(rates[f"{what} {writers}"]), RATE) for what in ("raw", "filed", "read"))
    by = "1 writer" if writers == 1 else f"{writers} writers"
    ratio = ours.median / raw.median
    return [
        Row(
            f"results into PostgreSQL, {by}", "raw batched insert", raw, ours, ratio,
            f"≥ {AIM}", is_met=ratio >= AIM,
        ),
        Row(f"the same, {by}", "read and verified alone", only, ours, ours.median / only.median),
    ]  # fmt: skip


Work = Callable[[tuple[str, tuple[int, ...]]], tuple[float, float]]


def together(pool: ProcessPoolExecutor, work: Work, url: str, shares: Sequence[tuple[int, ...]]) -> float:
    """Results a second of all of them, from the first to begin until the last to end."""
    spans = list(pool.map(work, [(url, share) for share in shares]))
    return BAYS * EACH / (max(end for _, end in spans) - min(begin for begin, _ in spans))


def insert(part: tuple[str, tuple[int, ...]]) -> tuple[float, float]:
    """The floor."""
    from hashlib import sha256

    url, bays = part
    batches = batched(issued(bays))
    with psycopg.connect(plain(url)) as connection, connection.cursor() as cursor:
        begin = time.monotonic()
        for batch in batches:
            cursor.executemany(
                "INSERT INTO raw VALUES (%s, %s, %s) ON CONFLICT DO NOTHING",
                [(topic, sha256(payload).hexdigest(), payload) for topic, payload in batch],
            )
            connection.commit()
        return begin, time.monotonic()


def file(part: tuple[str, tuple[int, ...]]) -> tuple[float, float]:
    """Ours."""
    url, bays = part
    batches = batched(issued(bays))
    with closing(Fleet(url)) as fleet:
        filing = Filing(fleet, Bays(BaysSettings()), lambda: datetime(2026, 11, 26, 6, tzinfo=UTC))
        filing.file([])
        begin = time.monotonic()
        filed = [filing.file(batch) for batch in batches]
        end = time.monotonic()
    assert sum(one.results for one in filed) == len(bays) * EACH
    return begin, end


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
