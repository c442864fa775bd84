"""One seed, from its plan to what is wrong with what came of it (nothing, one hopes)."""

from __future__ import annotations

import asyncio
import hashlib
import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import structlog

from acquire.bay.inspection import fold
from acquire.journal.reader import JournalReader
from config.bay import BayFiles
from contract.document import decode
from link.tasks import end
from tests.acquire.workbench import bay_files
from tests.virtual.inspecting import Meddler, Technician
from tests.virtual.invariants import findings
from tests.virtual.judging import judged_once
from tests.virtual.people import People
from tests.virtual.plan import Kind, Plan, plan_of
from tests.virtual.world import VirtualWorld, rows_of

# Seconds, virtual, in which everything has arrived once nothing goes wrong any more: what a broker refuses is
# offered again after a minute at most, and records that are new are noticed within ten seconds.
SETTLED_S = 150
# Seconds that nothing more happens before that is believed.
CALM_S = 12


@dataclass(frozen=True, slots=True)
class Outcome:
    """trace: a hash over every message with its time, and over the journal's rows. journal: over its file's
    bytes. said: how often the daemon's log said what. wrong: what an invariant found, one sentence each."""

    seed: int
    trace: str
    journal: str
    verdict: str
    wrong: tuple[str, ...]
    virtual_s: float
    spent_s: float
    commits: int
    kills: int
    sessions: int
    readings: int
    commands: int
    revisions: int
    graded: bool
    said: dict[str, int]


SOURCES: dict[Kind, Literal["encoder", "marks", "dwells"]] = {
    "swept": "encoder",
    "marked": "marks",
    "dwelled": "dwells",
}


class Files:
    """The configurations of each kind of bay, read once."""

    def __init__(self, folder: Path) -> None:
        self._by_source: dict[str, BayFiles] = {}
        for source in SOURCES.values():
            (folder / source).mkdir(exist_ok=True)
            self._by_source[source] = bay_files(folder / source, source)
        (folder / "two").mkdir(exist_ok=True)
        self._two = bay_files(folder / "two", "encoder", second=True)

    def of(self, plan: Plan) -> BayFiles:
        """Of the bay that a plan is about."""
        return self._two if plan.abreast else self._by_source[SOURCES.get(plan.kind, "marks")]


def run(seed: int, files: Files, folder: Path, plan: Plan | None = None) -> Outcome:
    """Play a seed on a fresh journal in `folder`. plan: another than the seed's own."""
    plan = plan or plan_of(seed)
    for old in folder.glob("journal.db*"):
        old.unlink()
    began_s = time.perf_counter()
    world = VirtualWorld(plan, files.of(plan), folder)
    people = People(world)
    try:
        with log_heard(world), judged_once(fully=plan.is_graded):
            settled = world.loop.run_until_complete(tell(world, people))
            wrong = findings(world, people)
    finally:
        world.loop.close()
    if not settled:
        wrong.append(f"not everything has arrived {SETTLED_S} s after the last trouble")
    rows = rows_of(world.path)
    reader = JournalReader(world.path)
    try:
        results, latest = reader.results(), reader.latest_result()
    finally:
        reader.close()
    digest = world.broker.digest.copy()
    for row in rows:
        digest.update(repr(row).encode())
    for result in results:
        digest.update(result.utc.encode() + result.document)
    return Outcome(
        seed=seed,
        trace=digest.hexdigest(),
        journal=hashlib.sha256(world.path.read_bytes()).hexdigest(),
        verdict=_verdict(latest.document) if latest is not None else "none",
        wrong=tuple(wrong),
        virtual_s=world.hand.now_ns / 1e9,
        spent_s=time.perf_counter() - began_s,
        commits=world.disk.commits,
        kills=world.kills,
        sessions=world.broker.sessions,
        readings=sum(len(row) == 8 for row in rows),
        commands=len(people.asked),
        revisions=len(results),
        graded=plan.is_graded,
        said=dict(world.said),
    )


async def tell(world: VirtualWorld, people: People) -> bool:
    """The whole story; whether all has arrived in the end."""
    loop = world.loop
    daemon = loop.create_task(world.keep_running())
    others = [loop.create_task(work) for work in (world.bay.play(), world.bay.plug(), world.go_wrong())]
    if world.plan.meddles:
        others.append(loop.create_task(Meddler(world, people, "m").meddle()))
    technician = Technician(world, people, "t")
    story = loop.create_task(technician.inspect())
    try:
        await asyncio.wait((story, daemon), return_when=asyncio.FIRST_COMPLETED)
        if story.done():
            story.result()
        await end(*others)
        world.heal()
        settled = not daemon.done() and await technician.is_answered() and await _settled(world)
        world.stop()
        await daemon
    finally:
        await end(story, daemon, *others)
    return settled


async def _settled(world: VirtualWorld) -> bool:
    """Wait until nothing is on its way any more."""
    calm_s = 0
    for _ in range(SETTLED_S):
        await asyncio.sleep(1.0)
        calm_s = calm_s + 1 if _has_arrived(world) else 0
        if calm_s >= CALM_S:
            return True
    return False


def _has_arrived(world: VirtualWorld) -> bool:
    status = json.loads(world.broker.retained.get(world.topics.status, b"{}"))
    if status.get("state") != "online" or status.get("warnings"):
        return False
    reader = JournalReader(world.path)
    try:
        if reader.waiting("mqtt", 1) or reader.waiting("records", 1):
            return False
        for inspection in reader.inspections():
            revision = fold(reader.read(inspection, samples=False)).revision
            if reader.result(inspection, revision) is None:
                return False
    finally:
        reader.close()
    return True


@contextmanager
def log_heard(world: VirtualWorld) -> Iterator[None]:
    before = structlog.get_config()["processors"]
    structlog.configure(processors=[world.hear_log])
    try:
        yield
    finally:
        structlog.configure(processors=before)


def _verdict(document: bytes) -> str:
    return decode(document).verdict
