"""A bay in memory: the bay's own core, journal and grading on a clock wound by hand, and what the daemon
publishes of them, in the order in which it does."""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, Literal

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.journal.outbox import result_messages
from config.method import Method
from contract.document import encode
from contract.live import live_payload
from contract.states import GaugeStateMessage, gauge_state_payload, reading_message, status_payload
from contract.terms import PublicState
from contract.topics import Topics
from contract.units import Unit
from contract.wire import rfc3339
from drivers.reading import Reading
from drivers.state import PortState
from grading.assess import assess
from link.tasks import end
from tests.acquire.workbench import ENCODER, INDICATOR, KEYED, Workbench
from tests.ringtrue.inspecting.line import Line

Surface = Callable[[float], float]
_PORT: dict[PublicState, PortState] = {
    "connected": PortState.LIVE, "silent": PortState.SILENT, "absent": PortState.ABSENT,
}  # fmt: skip


def round_rim(tir_mm: float) -> Surface:
    """A surface that runs out by so much, once around."""
    return lambda angle_deg: tir_mm / 2 * math.cos(math.radians(angle_deg - 40))


class MemoryBay:
    """A daemon in all but name; `settled` once everything it was told is published."""

    def __init__(self, folder: Path, source: Literal["encoder", "marks"] = "encoder") -> None:
        self.line = Line()
        self.line.on_command = self._take
        self.bench = Workbench(folder, source)
        self.bench.bay._changed = lambda inspection, seq: self._due.append(inspection)
        bay = self.bench.files.settings.bay
        self.topics = Topics(bay.site, bay.name)
        self._due: list[str] = []
        self._commands: asyncio.Queue[tuple[str, bytes]] = asyncio.Queue()
        self.is_running = True
        self.deaf = False
        """Whether commands go unheard, as while the daemon is away."""

    def now_s(self) -> float:
        return self.bench.clock.now_ns / 1e9

    def start(self) -> None:
        """What a daemon says first."""
        self.is_running = True
        self.line.publish(self.topics.status, status_payload("online"), retain=True)
        for gauge in (ENCODER, INDICATOR, KEYED):
            self.gauge(gauge, "connected")
        self._tell_live()

    def gauge(self, gauge: str, state: PublicState, reason: str = "reading") -> None:
        """A gauge goes or comes."""
        unit = Unit.UDEG if gauge == ENCODER else Unit.NM
        if gauge not in {one.id for one in self.bench.files.settings.gauge}:
            return
        self.bench.gauge(gauge, _PORT[state], reason)
        last = None if gauge == KEYED else reading_message(1, 0, 0, unit)
        since = rfc3339(self.bench.clock.utc())
        said = GaugeStateMessage(
            state=state,
            reason=reason,
            since=since,
            last=last,
            measures="angle" if gauge == ENCODER else "length",
            sends="key-press" if gauge == KEYED else "free-running",
        )
        self.line.publish(self.topics.gauge_state(gauge), gauge_state_payload(said), retain=True)
        self._tell_live()

    def die(self) -> None:
        """As by SIGKILL: the broker publishes the will."""
        self.is_running = False
        self.line.publish(self.topics.status, status_payload("offline"), retain=True)

    def restart(self) -> None:
        """A new daemon on the same journal."""
        self.bench.restart()
        self.bench.bay._changed = lambda inspection, seq: self._due.append(inspection)
        self.start()

    def _take(self, topic: str, payload: bytes) -> None:
        if self.is_running and not self.deaf:
            self._commands.put_nowait((self.topics.command_name(topic), payload))

    def _tell_live(self) -> None:
        self.line.publish(self.topics.live, live_payload(self.bench.bay.live()), retain=True)

    async def serve(self) -> None:
        """Answer commands, for ever."""
        while True:
            name, payload = await self._commands.get()
            reply = self.bench.bay.command(name, payload)
            self._tell_live()
            await self.bench.journal.flushed()
            self._publish_rows()
            self.line.publish(self.topics.reply(reply.request), reply.payload)
            await self._grade()

    async def tell(self) -> None:
        """Publish what readings and time have changed."""
        self._tell_live()
        await self.bench.journal.flushed()
        self._publish_rows()
        await self._grade()

    def _publish_rows(self) -> None:
        for row in self.bench.journal.pending("mqtt", 100, frozenset()):
            self.line.publish(row.topic, row.payload, retain=row.retain)
            self.bench.journal.done(row.id)

    async def _grade(self) -> None:
        due, self._due = dict.fromkeys(self._due), []
        journal = self.bench.journal
        await journal.flushed()  # what is due is graded as it is on the disk, and never before it is there
        for inspection in due:
            state = fold(journal.read(inspection))
            result = assess(to_evidence(state), Method.model_validate(state.opened.method))
            document = encode(result)
            messages = result_messages(self.topics, inspection, document)
            journal.put_result(
                inspection, result.revision, document, rfc3339(self.bench.clock.utc()), messages
            )
            await journal.flushed()
            self._publish_rows()

    # -- what a person does at the engine

    async def bar(self, surface: Surface, until_deg: int = 366, *, from_deg: int = 0) -> None:
        """Turn the crank, two degrees a reading, as far as asked or until the sweep ends."""
        bench = self.bench
        for angle in range(from_deg, until_deg + 1, 2):
            if not bench.bay.is_sweeping:
                break
            bench.wait(0.05)
            bench.read(ENCODER, angle % 360 * 1_000_000, Unit.UDEG)
            bench.read(INDICATOR, round(surface(angle) * 1000) * 1000)
        await self.tell()

    async def turn_to_mark(self, surface: Surface, start_deg: int, until_deg: int) -> None:
        """Turn the crank without an encoder, the indicator read all the way, and stand there."""
        for angle in [*range(start_deg, until_deg, 4), until_deg, until_deg, until_deg]:
            self.bench.wait(0.1)
            self.bench.read(INDICATOR, round(surface(angle) * 1000) * 1000)
        await self.tell()

    def asked(self) -> list[tuple[str, dict[str, Any]]]:
        """Every command that came, each once however often it was sent."""
        said = [(self.topics.command_name(topic), json.loads(payload)) for topic, payload in self.line.asked]
        return list({one["id"]: (name, one) for name, one in said}.values())

    def again(self, kind: str) -> None:
        """The latest event of a kind comes once more, as it may at QoS 1."""
        said = [one for one in self.line.published if b'"event":"%b"' % kind.encode() in one[1]]
        self.line.publish(*said[-1])

    async def key(self, value_mm: float) -> Reading:
        """The micrometer's key is pressed."""
        self.bench.wait(2)
        reading = self.bench.read(KEYED, round(value_mm * 1_000_000))
        await self.tell()
        return reading

    async def wait(self, seconds: float) -> None:
        """Time passes."""
        self.bench.wait(seconds)
        await self.tell()


@asynccontextmanager
async def memory_bay(
    folder: Path, source: Literal["encoder", "marks"] = "encoder"
) -> AsyncIterator[MemoryBay]:
    """One that runs."""
    bay = MemoryBay(folder, source)
    bay.start()
    serving = asyncio.ensure_future(bay.serve())
    try:
        yield bay
    finally:
        await end(serving)
        bay.bench.close()
