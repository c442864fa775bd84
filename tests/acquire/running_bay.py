"""A daemon in the test's own process."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Any

from acquire.daemon import Daemon, ReadRegister, RecordsHeld, RecordsNew
from config.bay import BayFiles
from link.address import BrokerAddress
from link.broker import built_in_address
from ringtrue.world import real_world
from tests.link.outside import until


@dataclass
class Running:
    """A daemon that runs, and the records it kept."""

    files: BayFiles
    records: list[dict[str, Any]] = field(default_factory=list)
    chain: list[bytes] = field(default_factory=list)
    records_away: bool = False
    records_new: RecordsNew | None = None
    records_held: RecordsHeld | None = None
    read_register: ReadRegister | None = None

    async def deliver(self, document: bytes) -> None:
        if self.records_away:
            raise OSError("the database is away")
        self.records.append(json.loads(document))

    async def deliver_chain(self, record: bytes) -> None:
        if self.records_away:
            raise OSError("the database is away")
        self.chain.append(record)

    @property
    def address(self) -> BrokerAddress:
        return built_in_address(self.files.settings.mqtt)

    @asynccontextmanager
    async def up(self) -> AsyncIterator[None]:
        stop = asyncio.Event()
        daemon = Daemon(
            self.files,
            real_world(),
            deliver_record=self.deliver,
            deliver_chain=self.deliver_chain,
            records_new=self.records_new,
            records_held=self.records_held,
            read_register=self.read_register,
            software="test",
        )
        running = asyncio.ensure_future(daemon.run(stop))
        try:
            if self.files.settings.mqtt.built_in:
                url = self.files.settings.mqtt.folder / "url"
                await until(lambda: url.exists() or running.done())
            yield
        finally:
            stop.set()
            await running
