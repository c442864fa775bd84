"""What a manner is: how a gauge's readings come, and what their absence means while its port is open."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from drivers.reading import Reading

T = TypeVar("T")

MISSES_TO_SILENCE = 3
"""Missed periods, or unanswered requests, until a gauge counts as silent."""


class Line(Protocol):
    """An open port, as the manner of its gauge sees it."""

    @property
    def port(self) -> object:
        """The port itself, for its modem lines."""

    async def aside(self, call: Callable[[], T]) -> T:
        """What blocks, in the port's own thread. Raises PortError where the port fails at it."""

    @property
    def ended(self) -> asyncio.Future[str]:
        """Done once the port failed or its far side went away."""

    @property
    def heard_ns(self) -> int:
        """When the last reading was heard, or the port opened."""

    @property
    def is_silent(self) -> bool:
        """Whether it counts as silent already."""

    def now_ns(self) -> int:
        """Monotonic."""

    def ready(self, waiting_for: str) -> None:
        """The gauge owes no sign of life."""

    def missed(self, since: str) -> None:
        """The gauge is silent. since: `for 3 s`, `to 3 requests`."""

    def restart(self) -> None:
        """What is kept of a frame belongs to nothing that follows."""

    async def request(self) -> Reading | None:
        """Ask now: the answer, or None in time. Raises PortError."""


class Behaviour(Protocol):
    """of_itself: the gauge sends at its own even pace, so that a port may be opened within a frame.

    request: the bytes that ask for a reading, None where nothing does; timeout_s: how long the answer
    may take.
    """

    of_itself: bool
    request: bytes | None
    timeout_s: float

    async def watch(self, line: Line) -> None:
        """Watches over an open port until it ended."""

    def admitted(self, readings: Sequence[Reading]) -> Sequence[Reading]:
        """Those of the readings that are meant; there is one at least."""


class AllMeant:
    """Of a gauge each of whose readings is meant."""

    def admitted(self, readings: Sequence[Reading]) -> Sequence[Reading]:
        """All."""
        return readings
