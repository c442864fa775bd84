"""A bay in the machine: its configuration, its daemon, and whoever speaks with it from outside."""

from __future__ import annotations

import asyncio
import math
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from contract.topics import Topics
from drivers.encoding import encode
from link.address import BrokerAddress
from link.client import BayClient
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
"""  # Seconds between two lines of a gauge.
PERIOD_S = 0.05


@dataclass(frozen=True, slots=True)
class Wheel:
    """What runs in the machine: an interpreter, and the folder of our rooms where they are not installed."""

    python: Path
    rooms: Path | None

    def command(self, *arguments: str) -> str:
        """`ringtrue` with these arguments, for a shell."""
        place = f"PYTHONPATH={self.rooms} " if self.rooms is not None else ""
        return f"{place}PYTHONSAFEPATH=1 {self.python} -m ringtrue {' '.join(arguments)}"


@asynccontextmanager
async def daemon(machine: Machine, wheel: Wheel, config: str) -> AsyncIterator[BayClient]:
    """The daemon at work in the machine, and a client of it on this side of its network. Its log is
    `job/daemon.log`."""
    (machine.job / "bay.toml").write_text(HEAD + config)
    await machine.must("cp /mnt/job/bay.toml bay.toml")
    run = wheel.command("run", "--config", "bay.toml")
    await machine.must(f"({run} >/mnt/job/daemon.log 2>&1 & echo $! >daemon.pid)")
    ready = (
        "until grep -q ' ready' /mnt/job/daemon.log; do kill -0 $(cat daemon.pid) || exit 1; sleep 0.2; done"
    )
    try:
        await machine.must(f"{ready}; cp var/broker/password /mnt/job")
        password = (machine.job / "password").read_text().strip()
    except BaseException:
        print((machine.job / "daemon.log").read_text())
        raise
    address = BrokerAddress("127.0.0.1", machine.broker_port, username="ringtrue", password=password)
    async with connect(address) as connection:
        client = BayClient(connection, TOPICS, "R. Example", lambda _: None)
        await client.subscribe()
        hearing = asyncio.ensure_future(client.listen())
        try:
            yield client
        finally:
            await end(hearing)
            print((machine.job / "daemon.log").read_text())


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
        self.sent: Counter[str] = Counter()
        self.angle_deg = 0.0

    def _indicator(self) -> int:
        return round(50 * math.cos(math.radians(self.angle_deg - 40))) * 1_000

    def _encoder(self) -> int:
        return round(self.angle_deg * 1_000) * 1_000 % 360_000_000

    def send(self) -> None:
        """One line of each."""
        for adapter in self.plugged:
            value, profile = self._lines[adapter]
            self._machine.send(adapter, encode(value(), profile))
            self.sent[adapter] += 1

    async def send_for_ever(self) -> None:
        """Until it is cancelled."""
        while True:
            self.send()
            await asyncio.sleep(PERIOD_S)

    async def bar(self, to_deg: float, *, deg_s: float = 60.0) -> None:
        """Turn it on, to there."""
        while self.angle_deg < to_deg:
            self.angle_deg = min(self.angle_deg + deg_s * PERIOD_S, to_deg)
            await asyncio.sleep(PERIOD_S)
