"""A practice on virtual time: the bay's core and its instruments in memory, all that a trainee meets as it
ships."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from acquire.bay.bay import Bay
from acquire.journal.writer import Journal
from config.bay import BayFiles, read_bay
from contract.live import Live
from contract.result import Result
from drivers.instrument import Instrument
from link.errors import RefusedError
from link.tasks import end
from ringtrue.demo_folder import MICROMETER, DemoFolder
from ringtrue.practice.bay import journal_result
from ringtrue.practice.practising import Practice, Task
from ringtrue.practice.review import Review
from simulators.loop import VirtualLoop
from simulators.memory import AtOnce, MemoryPort, MemoryReader
from simulators.timeline import Timeline
from tests.acquire.hand_clock import HandClock
from tests.acquire.workbench import flush

# Seconds, virtual, that instruments have to open their ports and to hear of each gauge.
SETTLE_S = 0.5
# Seconds, virtual, between two looks at the bay.
LOOK_S = 0.05


class MemoryBay:
    """`PracticeBay` without broker and process."""

    def __init__(self, bay: Bay, journal: Journal, path: Path, files: BayFiles) -> None:
        self._bay, self._journal, self._path = bay, journal, path
        self.method = files.method
        self._requests = 0

    @property
    def live(self) -> Live | None:
        return self._bay.live()

    async def command(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        self._requests += 1
        said = {"id": f"r{self._requests}", "operator": "trainee", **arguments}
        reply: dict[str, Any] = json.loads(self._bay.command(name, json.dumps(said).encode()).payload)
        self.flush()
        if not reply["ok"]:
            raise RefusedError(name, reply["error"]["code"], reply["error"]["message"])
        return reply

    async def until(self, is_so: Callable[[], bool]) -> bool:
        for _ in range(100):
            if is_so():
                return True
            await asyncio.sleep(LOOK_S)
        return False

    async def caught_up(self) -> None:
        await asyncio.sleep(LOOK_S)

    async def result(self) -> Result | None:
        self.flush()
        return journal_result(self._path, frozenset())

    def flush(self) -> None:
        with ThreadPoolExecutor(1) as beside:  # the journal's own thread is real, and this loop's time is not
            beside.submit(flush, self._journal).result()


@dataclass
class Room:
    """What came of a practice. answers: by act, the lines told; sent: every frame of the gauges, as it came;
    in_act: whether it came of an act."""

    practice: Practice
    answers: list[list[str]] = field(default_factory=list)
    sent: list[tuple[str, bytes]] = field(default_factory=list)
    in_act: list[bool] = field(default_factory=list)
    review: Review | None = None

    @property
    def said(self) -> list[str]:
        return [line for answer in self.answers for line in answer]


def practised(folder: Path, task: Task, acts: Iterable[str]) -> Room:
    """Play acts to the end, and hold them against the truth."""
    with _room(folder, task) as (room, play):
        play(acts)
        return room


@contextmanager
def _room(folder: Path, task: Task) -> Iterator[tuple[Room, Callable[[Iterable[str]], None]]]:
    folder.mkdir(exist_ok=True)
    kept = DemoFolder(folder, "practice", has_micrometer=True)
    kept.prepare()
    files = read_bay(kept.config, {})
    clock = HandClock(now_ns=1_000_000_000)
    loop = VirtualLoop(clock)
    journal = Journal(folder / "journal.db")
    reader = MemoryReader()
    bay = Bay(files.settings, files.method, files.profiles, journal, clock, lambda inspection, seq: None)
    bay.resume()
    ports = {gauge.id: str(gauge.port) for gauge in files.settings.gauge}
    instruments = [
        loop.create_task(
            Instrument(
                gauge,
                files.profiles[gauge.id],
                reader,
                clock,
                bay.take_reading,
                bay.gauge_changed,
                opener=lambda name, settings: MemoryPort(name),
                finder=lambda settings, _: str(settings.port),
                thread=lambda _: AtOnce(),
            ).run()
        )
        for gauge in files.settings.gauge
    ]

    def write(gauge: str, data: bytes) -> None:
        room.sent.append((gauge, data))
        room.in_act.append(practice.lines.is_turning or gauge == MICROMETER)
        reader.send(ports[gauge], data, clock.now_ns)

    memory = MemoryBay(bay, journal, folder / "journal.db", files)
    practice = Practice(task, files, memory, write, Timeline(1.0, clock.monotonic_ns))
    for gauge in (practice.lines.rig.indicator, practice.lines.rig.encoder):
        gauge.period_s = 0.04
    room = Room(practice)

    async def tell(acts: Iterable[str]) -> None:
        standing = asyncio.ensure_future(practice.lines.stand())
        await asyncio.sleep(SETTLE_S)
        try:
            room.review = await practice.take(_each([*acts, "finish"]), room.answers.append)
        finally:
            await end(standing)

    try:
        yield room, lambda acts: loop.run_until_complete(tell(acts))
    finally:
        for task_ in instruments:
            task_.cancel()
        loop.run_until_complete(asyncio.wait(instruments))
        loop.close()
        journal.close()


async def _each(acts: Iterable[str]) -> AsyncIterator[str]:
    for act in acts:
        yield act
