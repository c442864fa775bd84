"""What a daemon is handed: everything by which it touches what is not itself.

The same daemon so runs a bay on ports, threads and a network, and a simulated one on virtual time.
"""

from __future__ import annotations

import random
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import Executor
from contextlib import AbstractAsyncContextManager, AsyncExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from acquire.aside import Aside
from acquire.clock import Clock
from acquire.health import Machine
from acquire.journal.writer import Journal, Trouble
from chain.signing import Signing
from config.profile import PortSettings
from config.settings import Settings
from drivers.finding import Placed
from drivers.plugs import NoNews, Plugs
from drivers.reader import PortReader
from drivers.transports import OpenPort
from link.address import BrokerAddress
from link.bursts import BurstConnection
from link.connection import Connect

Work = Callable[[], Awaitable[None]]
"""Runs for ever."""


@dataclass(frozen=True, slots=True)
class Ports:
    """How gauges are found, opened and read. opener and finder block, and run in what `thread` gives for a
    gauge of that id. plugs: what tells that something was plugged in."""

    reader: Callable[[Clock], AbstractAsyncContextManager[PortReader]]
    opener: Callable[[str, PortSettings], OpenPort]
    finder: Callable[[Placed, PortSettings], str]
    thread: Callable[[str], Executor]
    plugs: Callable[[], AbstractAsyncContextManager[Plugs]] = NoNews


class OpenJournal(Protocol):
    """Opens the journal, with its writer at work. Raises JournalError."""

    def __call__(
        self, path: Path, *, on_messages: Callable[[], None], on_trouble: Callable[[Trouble | None], None]
    ) -> Journal: ...


class FindBroker(Protocol):
    """Where the broker is, and what of it is to be kept running. What it starts, the stack ends."""

    async def __call__(
        self, settings: Settings, stack: AsyncExitStack
    ) -> tuple[BrokerAddress, Sequence[tuple[str, Work]]]: ...


OpenKey = Callable[[Path], Signing]
"""What signs with the bay's key, which is made where there is none. Raises KeyFileError."""


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """Clock, ports, journal, key, broker, work beside the loop, and chance, of which only pauses are made.

    load: loads what no reading needs, so that nobody waits for it who asks for a verdict later. machine: what
    it has left, and where a folder lies.
    """

    clock: Clock
    ports: Ports
    open_journal: OpenJournal
    open_key: OpenKey
    find_broker: FindBroker
    connect: Connect[BurstConnection]
    aside: Aside
    rng: random.Random
    load: Callable[[], None]
    machine: Callable[[Path], Machine]
