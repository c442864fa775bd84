"""An engine on its stand with an indicator and an encoder on network ports, and a bay's configuration."""

from __future__ import annotations

import asyncio
import math
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from drivers.encoding import encode
from tests.link.outside import free_port

PERIOD_S = 0.005
"""Between two readings of each gauge."""


class Stand:
    """Rim with an offset of 0.05 mm: TIR 0.1 mm, far within; a face that wobbles by as much, elsewhere.

    `turn()` bars the crank over; gauges send all the time.
    """

    def __init__(self) -> None:
        self.ports = {"indicator-1": free_port(), "encoder-1": free_port()}
        self._indicator = read_toml(shipped("gauges", "line-mm"), GaugeProfile)
        self._encoder = read_toml(shipped("gauges", "encoder-degrees"), GaugeProfile)
        self.angle_deg, self.crest_deg = 0.0, 40.0
        self._servers: dict[str, asyncio.Server] = {}
        self._writers: dict[str, list[asyncio.StreamWriter]] = {gauge: [] for gauge in self.ports}

    def config(self, folder: Path, mqtt: str) -> Path:
        """The bay's file, with the given lines under [mqtt]."""
        file = folder / "bay.toml"
        file.write_text(f"""[bay]
site = "greywacke"
name = "bay-2"
[mqtt]
{mqtt}
[method]
file = "example"
[[gauge]]
id = "indicator-1"
profile = "line-mm"
port = "socket://127.0.0.1:{self.ports["indicator-1"]}"
resolution_mm = 0.001
mpe_mm = 0.004
[[gauge]]
id = "encoder-1"
profile = "encoder-degrees"
port = "socket://127.0.0.1:{self.ports["encoder-1"]}"
[angle]
source = "encoder"
gauge = "encoder-1"
""")
        return file

    async def plug_in(self, gauge: str) -> None:
        """Let it be found and sending."""

        async def accept(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            self._writers[gauge].append(writer)
            with suppress(OSError):
                await reader.read()
            writer.close()

        self._servers[gauge] = await asyncio.start_server(accept, "127.0.0.1", self.ports[gauge])

    async def unplug(self, gauge: str) -> None:
        """Cut it off."""
        server = self._servers.pop(gauge, None)
        if server is not None:
            server.close()
        for writer in self._writers[gauge]:
            writer.transport.abort()
        self._writers[gauge].clear()

    def set_on_face(self) -> None:
        """Move the indicator from the rim."""
        self.crest_deg = 160.0

    def send(self) -> None:
        """One line of each gauge."""
        value_nm = round(50_000 * math.cos(math.radians(self.angle_deg - self.crest_deg)) / 1000) * 1000
        lines = {
            "encoder-1": encode(round(self.angle_deg * 1000) * 1000 % 360_000_000, self._encoder),
            "indicator-1": encode(value_nm, self._indicator),
        }
        for gauge, line in lines.items():
            for writer in self._writers[gauge]:
                if not writer.is_closing():
                    writer.write(line)

    async def turn(self, degrees: float = 370.0, step_deg: float = 2.0) -> None:
        """Bar the crank over."""
        for _ in range(round(degrees / step_deg)):
            self.angle_deg += step_deg
            await asyncio.sleep(PERIOD_S)

    async def send_for_ever(self) -> None:
        """Until it is cancelled."""
        while True:
            self.send()
            await asyncio.sleep(PERIOD_S)


@asynccontextmanager
async def stand() -> AsyncIterator[Stand]:
    """A stand whose gauges are plugged in and send."""
    made = Stand()
    for gauge in made.ports:
        await made.plug_in(gauge)
    sending = asyncio.ensure_future(made.send_for_ever())
    try:
        yield made
    finally:
        sending.cancel()
        await asyncio.wait([sending])
        for gauge in made.ports:
            await made.unplug(gauge)
        await asyncio.sleep(0)
