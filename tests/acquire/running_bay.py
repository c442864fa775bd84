"""A daemon in the test's own process."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from typing import Any

from acquire.bay.known import Known
from acquire.daemon import Daemon
from config.bay import BayFiles
from link.address import BrokerAddress
from link.broker import OWN, built_in_address
from ringtrue.world import real_world
from tests.link.outside import until


@dataclass
class Running:
    """A daemon that runs, and the records it kept."""

    files: BayFiles
    records: list[dict[str, Any]] = field(default_factory=list)
    chain: list[bytes] = field(default_factory=list)
    records_away: bool = False
    wiped: bool = False
    register_away: bool = False
    register_read: asyncio.Event = field(default_factory=asyncio.Event)

    async def deliver(self, document: bytes) -> None:
        if self.records_away:
            raise OSError("the database is away")
        self.records.append(json.loads(document))

    async def deliver_chain(self, record: bytes) -> None:
        if self.records_away:
            raise OSError("the database is away")
        self.chain.append(record)

    async def is_new(self) -> bool:
        self.wiped, wiped = False, self.wiped
        return wiped

    async def held(self, site: str, bay: str) -> int:
        assert (site, bay) == (self.files.settings.bay.site, self.files.settings.bay.name)
        return len(self.records)

    async def register(self) -> Known:
        if self.register_away:
            raise OSError("the database is away")
        self.register_read.set()
        return Known()

    @property
    def address(self) -> BrokerAddress:
        return built_in_address(self.files.settings.mqtt)

    @property
    def own_address(self) -> BrokerAddress:
        """As the daemon itself, which alone may speak in the bay's name."""
        password = (self.files.settings.mqtt.folder / "own").read_text().strip()
        return replace(self.address, username=OWN, password=password)

    @asynccontextmanager
    async def up(self) -> AsyncIterator[None]:
        stop = asyncio.Event()
        daemon = Daemon(self.files, real_world(), self, software="test")
        running = asyncio.ensure_future(daemon.run(stop))
        try:
            if self.files.settings.mqtt.built_in:
                url = self.files.settings.mqtt.folder / "url"
                await until(lambda: url.exists() or running.done())
            yield
        finally:
            stop.set()
            await running
