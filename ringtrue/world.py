"""The world of a real bay: ports and threads of this machine, a broker on the network."""

from __future__ import annotations

import asyncio
import gc
import os
import random
from contextlib import AsyncExitStack
from pathlib import Path

import structlog

from acquire.clock import RealClock
from acquire.health import Machine
from acquire.journal.writer import Journal
from acquire.world import Ports, Work, World
from chain.key import read_or_make
from config.settings import Settings
from drivers.finding import find_port
from drivers.instrument import own_thread
from drivers.plugs import KernelNews
from drivers.reader import PortReader
from drivers.transports import open_port
from link.address import BrokerAddress, address_of
from link.bridge import bridge_lines
from link.broker import BuiltInBroker
from link.bursts import connect


def real_world() -> World:
    """What `ringtrue run` hands its daemon."""
    return World(
        clock=RealClock(),
        ports=Ports(PortReader, open_port, find_port, own_thread, KernelNews),
        open_journal=Journal,
        open_key=read_or_make,
        find_broker=find_broker,
        connect=connect,
        aside=asyncio.to_thread,
        rng=random.Random(),  # noqa: S311 of pauses only
        load=load,
        machine=machine,
    )


def machine(folder: Path) -> Machine:
    """What this one has left (statvfs(3), proc(5))."""
    disk = os.statvfs(folder)
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return Machine(disk.f_bavail * disk.f_frsize, pages * os.sysconf("SC_PAGE_SIZE"))


def load() -> None:
    """What grades, and what keeps records, which takes the better part of a second.

    It lives as long as the daemon, and is left out of the search for garbage from then on: each took 60 ms
    more with it, for which no reading was stamped.
    """
    import scipy.special  # noqa: F401 loaded for what comes

    import acquire.bay.verdict  # noqa: F401 loaded for what comes
    import records.store  # noqa: F401 loaded for what comes

    gc.freeze()


async def find_broker(
    settings: Settings, stack: AsyncExitStack
) -> tuple[BrokerAddress, list[tuple[str, Work]]]:
    """The configured broker, or the one that is started here as a child. Raises BrokerError, ConfigError."""
    log = structlog.get_logger()
    mqtt = settings.mqtt
    if not mqtt.built_in:
        address = address_of(mqtt)
        log.info("broker", url=address.url, program="as configured", username=mqtt.username)
        return address, []
    broker = BuiltInBroker(mqtt, bridge_lines(settings.bridge, settings.bay))
    await broker.start()
    stack.push_async_callback(broker.stop)
    reading = "open to all" if broker.anonymous_reading else "needs the credential too"
    log.info(
        "broker",
        url=broker.address().url,
        program=broker.program,
        credential=str(broker.password_file),
        reading=reading,
        bridged_to=list(settings.bridge.addresses),
    )
    return broker.address(), [("broker", broker.run)]
