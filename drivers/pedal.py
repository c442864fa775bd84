"""The switch that is pressed at a mark: found, opened, listened to and, whatever happens, found again."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from concurrent.futures import Executor
from typing import Any

import structlog

from config.press import Press
from config.profile import PortSettings
from drivers.errors import PortError
from drivers.finding import Placed
from drivers.plugs import Plugs
from drivers.switches import port_settings, switch
from drivers.transports import OpenPort, close_port

# Where nobody tells that something was plugged in, the switch is looked for so often.
LOOK_AGAIN_S = 1.0


class Pedal:
    """Runs one switch for ever. on_press gets the time of each press, on_trouble why none can come (empty:
    they can); both in the loop's thread. opener and finder block, and run in `thread`."""

    def __init__(
        self,
        press: Press,
        now_ns: Callable[[], int],
        on_press: Callable[[int], None],
        on_trouble: Callable[[str], None],
        *,
        opener: Callable[[str, PortSettings], OpenPort],
        finder: Callable[[Placed, PortSettings], str],
        thread: Callable[[str], Executor],
        plugs: Plugs,
    ) -> None:
        self._press = press
        self._now_ns = now_ns
        self._on_press = on_press
        self._on_trouble = on_trouble
        self._opener = opener
        self._finder = finder
        self._thread = thread
        self._plugs = plugs
        self._log = structlog.get_logger().bind(switch=press.by)
        self._said: str | None = None

    async def run(self) -> None:
        """Until cancelled."""
        while True:
            stop = threading.Event()
            executor = self._thread(self._press.by)
            try:
                loop = asyncio.get_running_loop()
                await loop.run_in_executor(executor, self._listen, loop, stop)
            except (PortError, OSError) as error:
                why = str(error).replace("plug the gauge in", "plug it in")
                self._tell(f"the {self._press.by} for marks: {why}")
            finally:
                stop.set()
                executor.shutdown(wait=False)
            await self._plugs.wait(LOOK_AGAIN_S)

    def _listen(self, loop: asyncio.AbstractEventLoop, stop: threading.Event) -> None:
        """In its thread, until the switch is gone or nobody wants it any more."""

        def call(what: Callable[..., None], *said: Any) -> None:
            with contextlib.suppress(RuntimeError):  # the loop is closed: nobody waits
                loop.call_soon_threadsafe(what, *said)

        settings = port_settings(self._press)
        name = self._finder(self._press, settings)
        port = self._opener(name, settings)
        try:
            listened = switch(port, self._press, self._now_ns)
            call(self._tell, "")
            while not stop.is_set():
                for time_ns in listened.presses():
                    if not stop.is_set():
                        call(self._on_press, time_ns)
        except OSError as error:
            raise PortError(f"{name} went away or has no such line ({error.strerror or error})") from error
        finally:
            close_port(port)

    def _tell(self, trouble: str) -> None:
        if trouble == self._said:
            return
        self._said = trouble
        if trouble:
            self._log.warning("no presses", reason=trouble)
        else:
            self._log.info("listening for presses")
        self._on_trouble(trouble)
