"""How the house speaks MQTT: what every connection does, and a loop that keeps one up.

There are two. `bursts.py` is the daemon's: it writes many messages at once. `display.py` is for whoever shows
or asks, by the client library as it comes. Neither library reconnects: that is mended here.
"""

from __future__ import annotations

import asyncio
import random
from abc import ABC, abstractmethod
from collections.abc import Awaitable, Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass
from typing import Protocol, TypeVar

from contract.pauses import Pauses
from link import limits
from link.address import BrokerAddress, Will
from link.errors import LinkError
from link.tasks import end

T = TypeVar("T")

# First and longest pause between two attempts to connect: someone may stand and wait for it.
RETRY_FIRST_S, RETRY_MAX_S = 0.1, 3.0


@dataclass(frozen=True, slots=True)
class Received:
    """One message. retained: its sender asked for it to be kept (as far as the protocol shows)."""

    topic: str
    payload: bytes
    retained: bool


class Connection(ABC):
    """One connection while it lasts."""

    def __init__(self, lost: asyncio.Future[str]) -> None:
        """lost: done once it has ended, with why."""
        self._lost = lost
        self._incoming: asyncio.Queue[tuple[Received, int, int]] = asyncio.Queue()
        self.dropped = 0
        """Messages received at QoS 0 that found no room."""

    @abstractmethod
    async def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> None:
        """Publish; at QoS 1 returns when the broker has acknowledged. Raises LinkError."""

    @abstractmethod
    async def subscribe(self, topic: str, *, qos: int = 1) -> None:
        """Subscribe; returns when the broker has acknowledged. Raises LinkError, also if refused."""

    @abstractmethod
    async def close(self) -> None:
        """Say goodbye: no will is published."""

    async def next_message(self) -> Received:
        """Wait for the next message of any subscription. Raises LinkError when the connection ends."""
        message, mid, qos = await self._next()
        self._taken(mid, qos)
        return message

    async def _next(self) -> tuple[Received, int, int]:
        if self._incoming.empty():
            waiting = asyncio.ensure_future(self._incoming.get())
            try:
                await asyncio.wait((waiting, self._lost), return_when=asyncio.FIRST_COMPLETED)
            finally:
                if not waiting.done():
                    waiting.cancel()
            if not waiting.done():
                raise self._ended()
            return await waiting
        return self._incoming.get_nowait()

    async def wait_lost(self) -> LinkError:
        """Wait until the connection ends, and say why it did."""
        await asyncio.wait((self._lost,))
        return self._ended()

    def _ended(self) -> LinkError:
        why = self._lost.result()
        told = "" if not why or "Unspecified" in why else f": {why}"  # a broker that stops gives no reason
        return LinkError(f"the connection to the broker ended{told}")

    def _arrived(self, message: Received, mid: int, qos: int) -> None:
        if qos == 0 and self._incoming.qsize() >= limits.INCOMING_MAX:
            self.dropped += 1
        else:
            self._incoming.put_nowait((message, mid, qos))

    @abstractmethod
    def _taken(self, mid: int, qos: int) -> None:
        """Somebody has taken it."""


C = TypeVar("C", bound=Connection)
C_co = TypeVar("C_co", bound=Connection, covariant=True)


class Connect(Protocol[C_co]):
    """Opens a connection: `connect` of `bursts.py` or `display.py`."""

    def __call__(
        self, address: BrokerAddress, *, will: Will | None = None
    ) -> AbstractAsyncContextManager[C_co]: ...


async def run_session(connection: C, session: Callable[[C], Awaitable[T]]) -> T:
    """Run `session` while the connection lasts; raises LinkError when it ends first."""
    lost = asyncio.ensure_future(connection.wait_lost())
    work = asyncio.ensure_future(session(connection))
    try:
        await asyncio.wait((lost, work), return_when=asyncio.FIRST_COMPLETED)
        if work.done():
            return work.result()
        raise lost.result()
    finally:
        await end(lost, work)


async def stay_connected(
    address: Callable[[], BrokerAddress],
    session: Callable[[C], Awaitable[T]],
    *,
    connect: Connect[C],
    will: Will | None = None,
    on_down: Callable[[LinkError], None] | None = None,
    chance: Callable[[], float] = random.random,
) -> T:
    """Run `session` on a connection, again on a new one whenever that is lost, until it returns.

    address: asked before each attempt. on_down: told why, once per attempt that failed or ended.
    Pauses between attempts grow to RETRY_MAX_S, with jitter by `chance` (0 up to 1), and start anew after
    a session that lasted longer than that. What the session raises, other than LinkError, ends the loop.
    """
    loop = asyncio.get_running_loop()
    pauses = Pauses(RETRY_FIRST_S, RETRY_MAX_S)
    while True:
        began = loop.time()
        try:
            async with connect(address(), will=will) as connection:
                return await run_session(connection, session)
        except LinkError as err:
            if on_down is not None:
                on_down(err)
        if loop.time() - began >= RETRY_MAX_S:
            pauses.anew()
        await pauses.wait(0.75 + 0.5 * chance())
