"""An event loop on virtual time: where nothing is left to do now, it is the time of the next timer."""

from __future__ import annotations

import asyncio
import selectors
from collections.abc import Mapping
from typing import Any, Protocol

# Seconds by which a timer may be due early: less than the clock's own nanosecond.
RESOLUTION_S = 0.4e-9


class Wound(Protocol):
    """A clock that moves when it is told to."""

    now_ns: int

    def advance_to(self, time_ns: int) -> None: ...


class StandstillError(RuntimeError):
    """All tasks wait for each other: no timer is left to go on to."""


class VirtualLoop(asyncio.SelectorEventLoop):
    """Timers are due when the clock says so, and the clock goes on only by them: no real wait, and the same
    order every time. One thread: what it is asked to run in another runs here at once.

    It has no use for descriptors; what is registered to be watched is never ready.
    """

    def __init__(self, clock: Wound) -> None:
        self._wound = clock
        super().__init__(_Leaping(clock))
        # A timer due a nanosecond early would have who looks at the clock wait on for ever.
        self._clock_resolution = RESOLUTION_S

    def time(self) -> float:
        return self._wound.now_ns / 1e9

    def _write_to_self(self) -> None:
        """Nobody sleeps who would have to be woken."""

    async def until(self, time_ns: int) -> None:
        """Wait for a time of the clock."""
        left_ns = time_ns - self._wound.now_ns
        if left_ns > 0:
            await asyncio.sleep(left_ns / 1e9)


class _Leaping(selectors.BaseSelector):
    """Never waits: leaps to where the loop would have woken."""

    def __init__(self, clock: Wound) -> None:
        self._clock = clock
        self._keys: dict[int, selectors.SelectorKey] = {}

    def register(self, fileobj: Any, events: int, data: Any = None) -> selectors.SelectorKey:
        fd = fileobj if isinstance(fileobj, int) else fileobj.fileno()
        return self._keys.setdefault(fd, selectors.SelectorKey(fileobj, fd, events, data))

    def unregister(self, fileobj: Any) -> selectors.SelectorKey:
        return self._keys.pop(fileobj if isinstance(fileobj, int) else fileobj.fileno())

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        if timeout is None:
            raise StandstillError("every task waits for another one")
        if timeout > 0:
            # Upwards, so that the timer is due: a nanosecond early, it would be waited for once more.
            self._clock.advance_to(self._clock.now_ns + max(round(timeout * 1e9), 1))
        return []

    def get_map(self) -> Mapping[Any, selectors.SelectorKey]:
        return {key.fileobj: key for key in self._keys.values()}
