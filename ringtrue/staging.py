"""What a simulated bay needs round it: its daemon and its broker, found and ended again, whatever happens."""

from __future__ import annotations

import asyncio
import signal
import time
from collections.abc import Awaitable, Callable
from contextlib import suppress
from typing import TypeVar

from acquire.journal.reader import JournalReader
from config.bay import BayFiles
from link.address import address_of
from link.broker import built_in_address
from link.connection import Connection, run_session
from link.display import connect
from link.errors import BrokerError, LinkError
from ringtrue.child import Child
from ringtrue.demo_folder import DemoError

T = TypeVar("T")

# Seconds that daemon and broker may take to start: far above the usual, since a laden machine still shows
# a demonstration.
START_MAX_S = 30.0
# Seconds between two looks whether the broker is there yet.
LOOK_S = 0.03


async def in_session(files: BayFiles, session: Callable[[Connection], Awaitable[T]]) -> T:
    """Find the daemon's broker, then what `session` returns. Raises DemoError where it cannot be reached."""
    until_s = time.monotonic() + START_MAX_S
    while True:
        try:
            mqtt = files.settings.mqtt
            address = built_in_address(mqtt) if mqtt.built_in else address_of(mqtt)
            async with connect(address) as connection:
                return await run_session(connection, session)
        except (BrokerError, LinkError) as error:
            if time.monotonic() > until_s:
                raise DemoError(f"the bay's broker cannot be reached: {error}") from None
        await asyncio.sleep(LOOK_S)


async def while_all_run(story: Awaitable[T], *others: Awaitable[object]) -> T:
    """What `story` returns. The others go on for ever: one that ends or fails ends the story."""
    task = asyncio.ensure_future(story)
    beside = [asyncio.ensure_future(other) for other in others]
    try:
        done, _ = await asyncio.wait((task, *beside), return_when=asyncio.FIRST_COMPLETED)
        for ended in beside:
            if ended in done:
                ended.result()
        return await task
    finally:
        for running in (task, *beside):
            running.cancel()
        await asyncio.gather(task, *beside, return_exceptions=True)


async def ended(daemon: Child) -> None:
    """Raises DemoError when the daemon ends by itself."""
    said = await daemon.wait_ended()
    raise DemoError(f"the daemon ended by itself; the last line of {daemon.log}: {said}")


def end_on_signals() -> None:
    """Being told to go is as good as Ctrl-C: everything is put away."""
    task, loop = asyncio.current_task(), asyncio.get_running_loop()
    assert task is not None
    cancel: Callable[[], object] = task.cancel
    for number in (signal.SIGTERM, signal.SIGHUP):
        with suppress(RuntimeError, ValueError):  # not in the main thread
            loop.add_signal_handler(number, cancel)


def open_inspection(files: BayFiles) -> str | None:
    """What an interrupted one has left in the journal."""
    if not files.settings.journal.path.is_file():
        return None
    reader = JournalReader(files.settings.journal.path)
    try:
        return reader.open_inspection()
    finally:
        reader.close()
