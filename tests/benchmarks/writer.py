"""Results a second of many bays into PostgreSQL, by one writer and by two.

Ours: what a writer does with a batch of messages: a result, its record and its checkpoint read, signatures
and all hashes verified, the document compressed, its figures in columns, the chain walked on, all in one
transaction; the next batch is read meanwhile. A backlog is there, so that batches are full. The documents are
those of a whole inspection as a bay issues them: ten revisions from opened to signed, 4 to 10 kB, 8 kB in the
mean (inspection.jsonl, from `ringtrue demo`). Against the very same bytes as they came in batched inserts, as
many rows a commit, into one table with a key, by one process and by two: that is the aim's floor. On a disk
that is waited for. All by turns, in one run.

Beside it, of the same messages, what `without` names; and the processor time of all of them, which a busy
machine moves less.

Then, in the same run, what is before the writer: a dozen bays with the daemon's own journal, chain and
connection, TLS and access lists, on one broker, and each with a broker of its own that is bridged into a
cluster of three; what either takes of the processor for 1 000 results, and how long each result takes from
its bay's signature to its row.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import AsyncIterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import psycopg

from config.writer import BaysSettings
from records.fleet.bays import Bays
from records.fleet.database import Fleet
from records.fleet.filing import Filing
from records.fleet.writing import Writer, to_itself
from tests.benchmarks import without
from tests.benchmarks.table import Figure, Row
from tests.benchmarks.without import EACH, NOW, RAW, Part, Span, Work, batched, issued, plain, timed, whole
from tests.parts.issuing import Message
from tests.parts.loads import bridged, on_one_broker
from tests.parts.postgres import Postgres, server

BAYS, REPEATS = 40, 3
CARRIED, CARRIED_EACH, CARRIED_S = 12, 40, 20.0
"""Bays, results of each, seconds that these are spread over: unhurried, as bays are."""
# The aim that was set, and what is held; why not more is told where the table is kept (docs/fleet/writer.md).
AIM, HELD = 0.7, 0.4
RATE = "{:,.0f}/s"


def measure() -> list[Row]:
    """All of it."""
    rates: dict[str, list[float]] = {}
    costs: dict[str, list[float]] = {}
    with server(durable=True) as postgres, ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        list(pool.map(issued, [(0,), (0,)]))  # what is imported, is
        for repeat in range(REPEATS):
            for writers in (1, 2):
                shares = [tuple(range(n, BAYS, writers)) for n in range(writers)]
                for what, work in WORKS.items():
                    url = postgres.make(f"{what}_{repeat}_{writers}")
                    if work is file:
                        with closing(Fleet(url)) as fleet:
                            fleet.prepare()
                    else:
                        with psycopg.connect(plain(url)) as connection:
                            connection.execute(RAW)
                    rate, cost_s = together(pool, work, url, shares, postgres)
                    rates.setdefault(f"{what} {writers}", []).append(rate)
                    costs.setdefault(what, []).append(cost_s * 1e6)
        carried = asyncio.run(_carried(postgres))
    return [row for writers in (1, 2) for row in _rows(rates, writers)] + _costs(costs) + carried


async def _carried(postgres: Postgres) -> list[Row]:
    """By one broker, and by a cluster."""
    rows = []
    with tempfile.TemporaryDirectory(prefix="ringtrue-carried-") as place:
        for what, load in (("one broker", on_one_broker), ("a cluster of three", bridged)):
            folder = Path(place) / load.__name__
            folder.mkdir()
            told = await load(
                folder, postgres, bays=CARRIED, results=CARRIED_EACH, over_s=CARRIED_S, goes_wrong=False
            )
            each = 1000 / told.results
            cost = Figure((told.carrier_s * each,), "{:.2f} s")
            rows.append(Row(f"{what}: processor of 1 000 results", "", None, cost, None))
            if told.own_s:
                own = Figure((told.own_s * each,), "{:.2f} s")
                rows.append(Row("bays' own brokers: processor of 1 000 results", "", None, own, None))
            for share, words in ((0.5, "half"), (0.99, "99 %")):
                delay = Figure((told.delay_s(share),), "{:.2f} s")
                rows.append(Row(f"{what}: signed to on record, {words} below", "", None, delay, None))
    return rows


def _costs(costs: dict[str, list[float]]) -> list[Row]:
    """Of all processes together, and so of any number of cores, whatever else they do."""
    found = {what: Figure(tuple(costs[what]), "{:,.0f} µs") for what in WORKS}
    ours = found["filed"]
    what, ratio = "processor time of a result", found["raw"].median / ours.median
    return [
        Row(what, "raw batched insert", found["raw"], ours, ratio, f"≥ {HELD} held", is_met=ratio >= HELD),
        *(Row(what, BESIDE[one], found[one], ours, found[one].median / ours.median) for one in BESIDE),
    ]


def _rows(rates: dict[str, list[float]], writers: int) -> list[Row]:
    found = {what: Figure(tuple(rates[f"{what} {writers}"]), RATE) for what in WORKS}
    by = "1 writer" if writers == 1 else f"{writers} writers"
    ours = found["filed"]
    ratio = ours.median / found["raw"].median
    aim = Row(
        f"results into PostgreSQL, {by}", "raw batched insert", found["raw"], ours, ratio,
        f"{AIM} was set, ≥ {HELD} held", is_met=ratio >= HELD,
    )  # fmt: skip
    return [aim] + [
        Row(f"the same, {by}", words, found[what], ours, ours.median / found[what].median)
        for what, words in BESIDE.items()
    ]


def together(
    pool: ProcessPoolExecutor, work: Work, url: str, shares: Sequence[tuple[int, ...]], postgres: Postgres
) -> tuple[float, float]:
    """Results a second of all of them, from the first to begin until the last to end; processor time of one,
    the database's too."""
    before_s = postgres.processor_s()
    spans = list(pool.map(work, [(url, share) for share in shares]))
    took_s = max(end for _, end, _ in spans) - min(begin for begin, _, _ in spans)
    busy_s = sum(busy for _, _, busy in spans) + postgres.processor_s() - before_s
    return BAYS * EACH / took_s, busy_s / (BAYS * EACH)


def file(part: Part) -> Span:
    """Ours."""
    url, bays = part
    batches = batched(issued(bays))
    with closing(Fleet(url)) as fleet:
        filing = Filing(fleet, Bays(BaysSettings()), lambda: NOW)
        filing.file([])
        backlog = Backlog(batches)
        with to_itself(), timed() as span:
            asyncio.run(backlog.written(filing, fleet))
        with fleet.transaction() as connection:
            (filed,) = connection.exec_driver_sql(
                "SELECT count(*) FROM fleet_revisions WHERE bay = ANY(%s)", ([f"bay-{n}" for n in bays],)
            ).one()
    assert filed == len(bays) * EACH
    return whole(span)


@dataclass
class Backlog:
    """A source that has all of it already, and ends its writer when all of it is taken."""

    left: list[list[Message]]

    async def written(self, filing: Filing, fleet: Fleet) -> None:
        self._writer = Writer(self, filing)
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


WORKS: dict[str, Work] = {
    "raw": without.all_of_it, "verified": without.filing, "rows": without.columns, "filed": file,
    "read": without.database, "signatures": without.all_but_signatures, "parsed": without.all_but_documents,
}  # fmt: skip
BESIDE = {
    "verified": "the floor, each message verified",
    "rows": "raw rows, as many as are kept",
    "read": "read and verified alone",
    "signatures": "two signatures alone",
    "parsed": "unpacked and parsed alone",
}
