"""Memory over a day of eight hours, on a clock wound by hand: eight gauges, an inspection each half hour.

The whole of the daemon but ports and broker, which stays away all day: every byte is framed, decoded,
tagged, journalled, offered to the publisher; results are graded and wait in the outbox.
"""

from __future__ import annotations

import asyncio
import json
import math
import os
import random
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import structlog

from acquire.bay.bay import Bay
from acquire.grader import GradingService
from acquire.journal.outbox import Outbox
from acquire.journal.writer import Journal
from acquire.publisher import Publisher
from acquire.results import Results
from config.bay import read_bay
from contract.live import live_payload
from contract.topics import Topics
from drivers.assembly import Assembler
from drivers.state import GaugeState, PortState
from link.tasks import end
from tests.acquire.hand_clock import HandClock
from tests.benchmarks import stage
from tests.benchmarks.board import CONTEXT, process
from tests.benchmarks.table import Figure, Row

GAUGES, PERIOD_NS = 8, 20_000_000
HOURS, HALF_HOUR_S = 8, 1800
ASKED_AT_H = (1, 4, 8)
# Seconds of one sweep: a hand that takes its time; 366 degrees.
SWEEP_S = 40
GROWTH_MAX = 0.10
MB = "{:.1f} MB"


def measure() -> list[Row]:
    """In a process of its own."""
    near, far = CONTEXT.Pipe()
    with stage.folder() as place, process(live_through, far, place):
        by_hour: dict[int, float] = near.recv()
    first = Figure((by_hour[1],), MB)
    rows = []
    for hour in ASKED_AT_H[1:]:
        growth = by_hour[hour] / by_hour[1] - 1
        aim, is_met = (f"≤ {1 + GROWTH_MAX:.2f}", growth < GROWTH_MAX)
        own = Figure((by_hour[hour],), MB)
        rows.append(Row(f"memory after {hour} h", "after 1 h", first, own, 1 + growth, aim, is_met))
    return rows


def live_through(result: Connection, place: Path) -> None:
    """A process: the day; hands over megabytes by hour."""
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(50))
    result.send(asyncio.run(Day(place).run()))


class Day:
    """One bay and its day."""

    def __init__(self, place: Path) -> None:
        ports = [f"/dev/port-{number}" for number in range(GAUGES)]
        config = stage.write_bay(place, 'url = "mqtt://127.0.0.1:1"', ports)
        files = read_bay(config, {})
        self.clock = HandClock(now_ns=1_000_000_000)
        self.journal = Journal(place / "journal.db")
        topics = Topics(stage.SITE, stage.BAY)
        self.grading = GradingService(lambda graded: self.results.keep(graded))
        self.results = Results(self.journal, self.grading, topics, self.clock)
        self.bay = Bay(
            files.settings, files.method, files.profiles, self.journal, self.clock, self.results.due,
            software="ringtrue",
        )  # fmt: skip
        self.publisher = Publisher(
            topics,
            Outbox(self.journal, "mqtt"),
            live=lambda: live_payload(self.bay.live()),
            on_command=lambda *_: None,
        )
        self.gauges = [Assembler(gauge.id, files.profiles[gauge.id]) for gauge in files.settings.gauge]
        self.ids = [gauge.id for gauge in files.settings.gauge]
        self.asked = 0
        rng = random.Random("day")
        # Values repeat by the minute: making them is no part of what is measured.
        self.lines = [
            [f"{0.1 * math.cos(i / 477) + rng.gauss(0, 0.001):+011.4f}\r\n".encode() for i in range(3000)]
            for _ in self.ids
        ]

    async def run(self) -> dict[int, float]:
        """Megabytes resident, by hour."""
        megabytes = {}
        async with self.up():
            for half in range(2 * HOURS):
                start_ns = self.clock.now_ns
                await self.inspect(f"truck-{half}")
                await self.read_until(start_ns + HALF_HOUR_S * 1_000_000_000, 0.0, 0.0)
                if half % 2 and half // 2 + 1 in ASKED_AT_H:
                    megabytes[half // 2 + 1] = _resident_mb()
        return megabytes

    @asynccontextmanager
    async def up(self) -> AsyncIterator[None]:
        """While it grades and all gauges are there."""
        self.bay.resume()
        tasks = [asyncio.ensure_future(work) for work in (self.grading.run(), self.results.run())]
        for gauge in self.ids:
            self.bay.gauge_changed(GaugeState(gauge, PortState.LIVE, "there", self.clock.now_ns, None))
        try:
            yield
        finally:
            await end(*tasks)
            await asyncio.to_thread(self.journal.close)

    async def inspect(self, inspection: str) -> None:
        """An inspection on the engine, to its result."""
        damper = {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine"}
        await self._do("open", inspection=inspection, **damper)
        for check in ("rim", "face"):
            await self.read_until(self.clock.now_ns + 1_000_000_000, 0.0, 0.0)
            await self._do("begin", check=check, gauge="indicator-1")
            await self.read_until(self.clock.now_ns + SWEEP_S * 1_000_000_000, 0.0, 366.0)
            if self.bay.is_sweeping:
                raise AssertionError(f"the {check} sweep of {inspection} did not end")
        items = [{"item": "leak", "seen": "good"}]
        await self._do("record", check="visual", items=items)
        await self._do("close", inspection=inspection)
        await self.journal.flushed()
        await self.grading.wait_idle()

    async def _do(self, name: str, **arguments: Any) -> None:
        self.asked += 1
        said = {"id": f"request-{self.asked}", "operator": "R. Example", **arguments}
        reply = json.loads(self.bay.command(name, json.dumps(said).encode()).payload)
        if not reply["ok"]:
            raise AssertionError(f"{name} was refused: {reply}")
        await self.journal.flushed()

    async def read_until(self, until_ns: int, start_deg: float, end_deg: float) -> None:
        """All gauges at their pace, the crank turning evenly from one angle to the other."""
        begin_ns = self.clock.now_ns
        for tick, time_ns in enumerate(range(begin_ns, until_ns, PERIOD_NS)):
            self.clock.now_ns = time_ns
            share = (time_ns - begin_ns) / (until_ns - begin_ns)
            angle = (start_deg + share * (end_deg - start_deg)) % 360.0
            for gauge, data in zip(self.gauges, self._data(tick, angle), strict=True):
                for reading in gauge.feed(data, time_ns):
                    self.bay.take_reading(reading)
                    self.publisher.reading(reading)
                    self.publisher.live_changed()
            if tick % 3 == 0 and self.bay.is_sweeping:
                live_payload(self.bay.live())  # as often as it would be sent
            if tick % 500 == 0:
                await asyncio.sleep(0)
        self.clock.now_ns = until_ns

    def _data(self, tick: int, angle_deg: float) -> Iterator[bytes]:
        for own in self.lines[:-1]:
            yield own[tick % len(own)]
        yield f"{angle_deg:011.4f}\r\n".encode()


def _resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
