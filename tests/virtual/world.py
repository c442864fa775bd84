"""The world of one seed: loop, clocks, disk, broker, lines and records, in which a daemon runs, is killed and
is started again. All of it follows from the plan."""

from __future__ import annotations

import asyncio
import random
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import AsyncExitStack
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import structlog

from acquire.daemon import Daemon
from acquire.health import Machine
from acquire.journal.reader import JournalReader
from acquire.memory import give_back
from acquire.world import Ports, Work, World
from config.bay import BayFiles
from config.files import shipped
from config.method import Method
from config.profile import GaugeProfile
from config.settings import Settings
from config.toml import read_toml
from contract.topics import Topics
from link.address import BrokerAddress
from simulators.bay import VirtualBay
from simulators.gauge import SimGauge, face_nm
from simulators.loop import VirtualLoop
from simulators.memory import AtOnce
from simulators.rig import haul_truck
from tests.acquire.hand_clock import HandClock
from tests.acquire.workbench import ENCODER, INDICATOR, SECOND
from tests.chain.signers import signer
from tests.virtual.broker import MemoryBroker
from tests.virtual.disk import VirtualDisk
from tests.virtual.plan import Plan
from tests.virtual.records import MemoryRecords, RecordsOfOneRun

# Seconds from a kill to the next start, at most.
DOWN_S = 3.0
ADDRESS = BrokerAddress("broker", 1883)


@dataclass(slots=True)
class BayClock:
    """The daemon's: its monotonic clock begins with the machine, and somebody may set the wall clock."""

    hand: HandClock
    booted_ns: int = 0
    step: timedelta = timedelta()

    def monotonic_ns(self) -> int:
        return self.hand.now_ns - self.booted_ns

    def utc(self) -> datetime:
        return self.hand.utc() + self.step


class VirtualWorld:
    """Run `keep_running` as a task; `kill` at any time; `stop` at the end."""

    def __init__(self, plan: Plan, files: BayFiles, folder: Path) -> None:
        self.plan = plan
        self.path = folder / "journal.db"
        self.files = _for_plan(files, plan, self.path)
        self.hand = HandClock(now_ns=1_000_000_000)
        self.loop = VirtualLoop(self.hand)
        self.clock = BayClock(self.hand)
        bay = files.settings.bay
        self.topics = Topics(bay.site, bay.name)
        self.broker = MemoryBroker(self.rng("broker"), self.hand.monotonic_ns, self.topics, str(folder))
        self.broker.lossy = plan.lossy
        self.disk = VirtualDisk(self.rng("disk"), dict(plan.kills), self.kill)
        self.records = MemoryRecords()
        self.key = signer(f"bay {plan.seed}")
        encoder = read_toml(shipped("gauges", "encoder-degrees"), GaugeProfile)
        self.rig = haul_truck(files.profiles[INDICATOR], encoder, plan.seed)
        self.rig.damper = plan.damper
        self.rig.indicator.period_s = self.rig.encoder.period_s = plan.period_s
        streams = {INDICATOR: self.rig.indicator_stream(start_ns=0)}
        if plan.kind == "swept":
            streams[ENCODER] = self.rig.encoder_stream(start_ns=0)
        if plan.abreast:
            second = SimGauge(
                files.profiles[SECOND],
                self.rng("second"),
                resolution=1_000,
                noise=800.0,
                period_s=plan.period_s,
            )
            streams[SECOND] = second.stream(face_nm(plan.damper, self.rig.crank), start_ns=0)
        ports = {gauge.id: str(gauge.port) for gauge in files.settings.gauge if gauge.id in streams}
        self.bay = VirtualBay(self.loop, ports, streams, plan.spells, self.rng("lines"))
        self._aside_rng = self.rng("aside")
        self._down_rng = self.rng("down")
        self._running: asyncio.Task[None] | None = None
        self._stop = asyncio.Event()
        self._dead = False
        self.runs = 0
        self.kills = 0
        self.snapshots: list[list[tuple[Any, ...]]] = []
        """The journal's committed rows at each kill."""
        self.faults: list[str] = []
        """What the log says that it must never say."""
        self.said: Counter[str] = Counter()

    def rng(self, name: str) -> random.Random:
        """A generator of its own for each part, so that one part's draws move no other's."""
        return random.Random(f"{name} {self.plan.seed}")

    # -- the daemon, and its ends

    async def keep_running(self) -> None:
        """Start it, and again after each kill, until it is stopped."""
        while True:
            self._dead = False
            daemon = self._new_daemon()
            self._running = self.loop.create_task(daemon.run(self._stop))
            await asyncio.wait([self._running])
            if not self._dead:
                self._running.result()
                if not self._stop.is_set():
                    self.faults.append("the daemon ended by itself")
                return
            if not self._running.cancelled() and (error := self._running.exception()) is not None:
                self.faults.append(f"killed, the daemon failed: {error!r}")
            self.snapshots.append(rows_of(self.path))
            await asyncio.sleep(self._down_rng.uniform(0.05, DOWN_S))
            if self.plan.reboots:
                self.clock.booted_ns = self.hand.now_ns - self._down_rng.randint(0, 10**9)

    def _new_daemon(self) -> Daemon:
        self.runs += 1
        run, reader = self.runs, self.bay.start(self.clock)
        ports = Ports(lambda _: reader, self.bay.open, lambda gauge, _: str(gauge.port), lambda _: AtOnce())
        world = World(
            clock=self.clock,
            ports=ports,
            open_journal=self.disk.open_journal,
            open_key=lambda _: self.key,
            find_broker=self._find_broker,
            connect=self.broker.connect,
            aside=self._aside,
            rng=self.rng(f"pauses {run}"),
            load=lambda: None,
            machine=lambda _: Machine(10**10, 10**8),
        )
        records = RecordsOfOneRun(self.records, self._aside_rng, lambda: self._dead or run != self.runs)
        return Daemon(self.files, world, records, software="ringtrue virtual")

    def kill(self) -> None:
        """As by SIGKILL: nothing of this daemon is written, sent or read from now on."""
        if self._running is None or self._dead or self._running.done():
            return
        self._dead = True
        self.kills += 1
        self.disk.drop()
        self.broker.cut()
        self.loop.call_soon(self._running.cancel)

    def stop(self) -> None:
        """As by SIGTERM."""
        self._stop.set()

    async def _find_broker(
        self, settings: Settings, stack: AsyncExitStack
    ) -> tuple[BrokerAddress, Sequence[tuple[str, Work]]]:
        return ADDRESS, []

    async def _aside(self, func: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Any:
        if func is give_back:
            return None
        rng, mean_s = self._aside_rng, self.plan.slow_s
        await asyncio.sleep(rng.expovariate(1.0 / mean_s))
        done = func(*args, **kwargs)
        await asyncio.sleep(rng.expovariate(10.0 / mean_s))
        return done

    # -- what goes wrong, in time

    async def go_wrong(self) -> None:
        """Broker, disk, records and wall clock, as planned."""
        plan, broker, records = self.plan, self.broker, self.records
        changes: list[tuple[int, Callable[[], object]]] = []
        for from_ns, to_ns in plan.away:
            changes += [(from_ns, broker.go_away), (to_ns, broker.come_back)]
        for from_ns, to_ns, level in plan.refused:
            changes.append((from_ns, partial(broker.refused.add, level)))
            changes.append((to_ns, partial(broker.refused.discard, level)))
        for from_ns, to_ns in plan.full:
            changes += [(from_ns, partial(self.disk.fill, True)), (to_ns, partial(self.disk.fill, False))]
        for from_ns, to_ns in plan.records_away:
            changes += [(from_ns, partial(records.go, True)), (to_ns, partial(records.go, False))]
        changes += [(at_ns, records.wipe) for at_ns in plan.records_wiped]
        changes += [(at_ns, partial(self._step, step_s)) for at_ns, step_s in plan.steps]
        for at_ns, change in sorted(changes, key=lambda one: one[0]):
            await self.loop.until(at_ns)
            change()

    def heal(self) -> None:
        """All is well from now on."""
        self.broker.come_back()
        self.broker.lossy = 0.0
        self.broker.refused.clear()
        self.disk.fill(False)
        self.disk.kills.clear()
        self.records.go(False)
        self.bay.heal()

    def _step(self, step_s: float) -> None:
        self.clock.step += timedelta(seconds=step_s)

    # -- its log

    def hear_log(self, _: Any, level: str, entry: Any) -> Any:
        """A structlog processor: what must never be said is kept."""
        self.said[str(entry.get("event"))] += 1
        if entry.get("exc_info"):
            error = entry["exc_info"]
            told = traceback.format_exception(error) if isinstance(error, BaseException) else None
            text = "".join(told) if told else traceback.format_exc()
            if not self._dead:
                self.faults.append(f"{entry.get('event')} {entry}: {text}")
        raise structlog.DropEvent


def rows_of(path: Path) -> list[tuple[Any, ...]]:
    """What a journal holds of events and readings, in order."""
    if not path.is_file():
        return []
    reader = JournalReader(path)
    try:
        rows = reader._select("SELECT seq, inspection, kind, time_ns, operator, body FROM event", ())
        rows += reader._select(
            "SELECT seq, sweep, gauge, reading, time_ns, value, unit, u_ns FROM sample", ()
        )
    finally:
        reader.close()
    return sorted((tuple(row) for row in rows), key=lambda row: row[0])


def _for_plan(files: BayFiles, plan: Plan, path: Path) -> BayFiles:
    """The bay's files with this journal; on the engine the rim alone is required unless all is planned."""
    settings = files.settings.model_copy(
        update={"journal": files.settings.journal.model_copy(update={"path": path})}
    )
    said = files.method.as_data()
    if not plan.full_method:
        said["required"] = {**said["required"], "on-engine": ["visual", "rim"]}
    return replace(files, settings=settings, method=Method.model_validate(said))
