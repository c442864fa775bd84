"""A bay in the machine: its configuration, its daemon, and whoever speaks with it from outside."""

from __future__ import annotations

import asyncio
import math
from collections import Counter, defaultdict
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from contract.events import EventMessage
from contract.health import HealthMessage
from contract.states import ReadingMessage
from contract.topics import Topics
from drivers.encoding import encode
from link.address import BrokerAddress
from link.client import BayClient
from link.connection import Connection
from link.display import connect
from link.tasks import end
from tests.machine.machine import Machine

TOPICS = Topics("greywacke", "bay-2")
HEAD = """\
[bay]
site = "greywacke"
name = "bay-2"
[mqtt]
url = "built-in"
listen = "0.0.0.0"
[method]
file = "example"
"""  # Seconds: far longer than anything awaited takes, emulated and beside other work.
LONG_S = 300.0
# Seconds between two lines of a gauge.
PERIOD_S = 0.05


@dataclass(frozen=True, slots=True)
class Wheel:
    """What runs in the machine: an interpreter, and the folder of our rooms where they are not installed."""

    python: Path
    rooms: Path | None

    def command(self, *arguments: str) -> str:
        """`ringtrue` with these arguments, for a shell."""
        place = f"PYTHONPATH={self.rooms} " if self.rooms is not None else ""
        how = f"{place}PYTHONSAFEPATH=1 PYTHONFAULTHANDLER=1"
        return f"{how} {self.python} -m ringtrue {' '.join(arguments)}"


@asynccontextmanager
async def daemon(machine: Machine, wheel: Wheel, config: str) -> AsyncIterator[Outside]:
    """The daemon at work in the machine, and a client of it on this side of its network. Its log is
    `job/daemon.log`."""
    (machine.job / "bay.toml").write_text(HEAD + config)
    await machine.must("cp /mnt/job/bay.toml bay.toml")
    run = wheel.command("run", "--config", "bay.toml")
    # Started again where it could not begin, as a service is: a broker that takes its time, for one.
    tries = f"for _ in 1 2 3; do {run} && break; done; echo ended"
    await machine.must(f"(({tries}) >/mnt/job/daemon.log 2>&1 &)")
    log = "/mnt/job/daemon.log"
    ready = f"until grep -q event=ready {log}; do ! grep -q ^ended {log} || exit 1; sleep 1; done"
    try:
        await machine.must(f"{ready}; cp var/broker/password /mnt/job")
        password = (machine.job / "password").read_text().strip()
    except BaseException:
        print((machine.job / "daemon.log").read_text())
        raise
    address = BrokerAddress("127.0.0.1", machine.broker_port, username="ringtrue", password=password)
    async with connect(address) as connection, connect(address) as beside:
        bay = Outside(connection)
        await bay.subscribe()
        await beside.subscribe(TOPICS.gauge_reading("+"))
        await beside.subscribe(TOPICS.health)
        hearing = [asyncio.ensure_future(some) for some in (bay.listen(), bay.hear_readings(beside))]
        try:
            yield bay
        finally:
            await end(*hearing)
            print((machine.job / "daemon.log").read_text())


class Outside(BayClient):
    """A client that hears each gauge's readings as well, in mm, degrees or counts, and the marks, all in
    order."""

    def __init__(self, connection: Connection) -> None:
        super().__init__(connection, TOPICS, "R. Example", lambda _: None, self._event)
        self.readings: defaultdict[str, list[float]] = defaultdict(list)
        self.numbers: defaultdict[str, list[int]] = defaultdict(list)
        """Those of the readings: where one is left out, the daemon knows that it is lost."""
        self.marks: list[float] = []
        self.came: Counter[str] = Counter()
        """How many readings of each gauge came here, ever."""
        self.health: HealthMessage | None = None
        """What the daemon counted, as it last said."""

    async def health_now(self) -> HealthMessage:
        """What it has counted by now: the next that it says."""
        before = self.health
        await self.until(lambda: self.health is not before, LONG_S, "what it counted")
        assert self.health is not None
        return self.health

    def _event(self, event: EventMessage) -> None:
        if event.event == "mark":
            self.marks.append(float((event.model_extra or {})["angle_deg"]))

    async def hear_readings(self, connection: Connection) -> None:
        """For ever."""
        while True:
            message = await connection.next_message()
            if message.topic == TOPICS.health:
                async with self._news:
                    self.health = HealthMessage.model_validate_json(message.payload)
                    self._news.notify_all()
                continue
            said = ReadingMessage.model_validate_json(message.payload)
            value = next(v for v in (said.value_mm, said.value_deg, said.count) if v is not None)
            async with self._news:
                gauge = message.topic.split("/")[-2]
                self.readings[gauge].append(value)
                self.numbers[gauge].append(said.seq)
                self.came[gauge] += 1
                self._news.notify_all()


def state_of(bay: BayClient, gauge: str) -> str:
    """As its topic last said it."""
    return bay.gauges[gauge].state if gauge in bay.gauges else "unheard"


class Crank:
    """An indicator on a rim and an encoder, each at its adapter, which send as long as they are plugged in.

    The rim's centre is 0.05 mm off the axis: TIR 0.1 mm (plane geometry), far within.
    """

    def __init__(self, machine: Machine, *, indicator: str, encoder: str) -> None:
        self._machine = machine
        self._lines = {
            indicator: (self._indicator, read_toml(shipped("gauges", "line-mm"), GaugeProfile)),
            encoder: (self._encoder, read_toml(shipped("gauges", "encoder-degrees"), GaugeProfile)),
        }
        self.plugged: set[str] = set()
        self.sent: defaultdict[str, list[int]] = defaultdict(list)
        """By adapter, in nm and microdegrees, in order."""
        self.angle_deg = 0.0

    def _indicator(self) -> int:
        return round(50 * math.cos(math.radians(self.angle_deg - 40))) * 1_000

    def _encoder(self) -> int:
        return round(self.angle_deg * 1_000) * 1_000 % 360_000_000

    def send(self) -> None:
        """One line of each."""
        for adapter in self.plugged:
            value, profile = self._lines[adapter]
            shown = value()
            self._machine.send(adapter, encode(shown, profile))
            self.sent[adapter].append(shown)

    @asynccontextmanager
    async def sending(self) -> AsyncIterator[None]:
        """All the time while the block runs."""

        async def for_ever() -> None:
            while True:
                self.send()
                await asyncio.sleep(PERIOD_S)

        task = asyncio.ensure_future(for_ever())
        try:
            yield
        finally:
            await end(task)

    async def bar(self, to_deg: float, *, deg_s: float = 60.0) -> None:
        """Turn it on, to there."""
        while self.angle_deg < to_deg:
            self.angle_deg = min(self.angle_deg + deg_s * PERIOD_S, to_deg)
            await asyncio.sleep(PERIOD_S)
