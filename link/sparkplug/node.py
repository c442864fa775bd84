"""The edge node: hears the bay, is born with all that it knows, tells what changes, and dies well.

Sparkplug specification 3.0, 5 (operational behaviour); tests/link/test_link_sparkplug.py has its conformance
ids.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractAsyncContextManager

import structlog

from contract.document import decode
from contract.result import Result
from contract.states import GaugeStateMessage, StatusMessage
from contract.topics import Topics
from link.address import BrokerAddress, Will
from link.connection import Connect, Connection, stay_connected
from link.display import connect as by_display
from link.errors import LinkError
from link.sparkplug.payload import Metric, Type, asks_for, changed, encoded
from link.sparkplug.told import metrics_of
from link.tasks import end

NAMESPACE = "spBv1.0"
REBIRTH = "Node Control/Rebirth"
COUNTS = 256
"""Both counters run from 0 to 255 and begin again."""
GAUGES_MAX = 50
"""Gauges of a bay that are told; beyond that somebody publishes what is none."""
REVISION_MAX = 2**63 - 1
"""What an Int64 holds."""
GATHER_S = 0.1
"""What changes within this time is told together; at first it is what the broker keeps of the bay."""


class EdgeNode:
    """One bay as a node of a group. Run `run` as a task; `leave` ends it well.

    numbers: one for each connection (bdSeq). now_ms: milliseconds since 1970, UTC.
    """

    def __init__(
        self,
        topics: Topics,
        group: str,
        node: str,
        address: Callable[[], BrokerAddress],
        numbers: Iterator[int],
        *,
        connect: Connect[Connection] = by_display,
        now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self._topics, self._group, self._node = topics, group, node
        self._address, self._connect, self._now_ms = address, connect, now_ms
        self._log = structlog.get_logger()
        self._numbers, self._birth_death = numbers, 0
        self._seq = 0
        self._status: StatusMessage | None = None
        self._gauges: dict[str, GaugeStateMessage] = {}
        self._result: Result | None = None
        self._told: list[Metric] | None = None
        self._changed = asyncio.Event()
        self._leaving = asyncio.Event()

    async def run(self) -> None:
        """Until `leave`: on a new connection whenever one is lost."""
        await stay_connected(self._address, self._session, connect=self._connecting, on_down=self._down)

    def leave(self) -> None:
        """Say goodbye, and end."""
        self._leaving.set()

    def _down(self, error: LinkError) -> None:
        self._log.warning("the node is not connected; trying again", reason=str(error))

    def _topic(self, kind: str) -> str:
        return f"{NAMESPACE}/{self._group}/{kind}/{self._node}"

    def _connecting(
        self, address: BrokerAddress, *, will: Will | None = None
    ) -> AbstractAsyncContextManager[Connection]:
        """Each connection has a number of its own, by which its birth and its death belong together."""
        self._birth_death = next(self._numbers) % COUNTS
        death = Will(self._topic("NDEATH"), self._death(), retain=False)
        return self._connect(address, will=will or death)

    def _death(self) -> bytes:
        return encoded([self._number()], self._now_ms(), None)

    def _number(self) -> Metric:
        return Metric("bdSeq", Type.INT64, self._birth_death)

    async def _session(self, connection: Connection) -> None:
        self._status, self._result, self._told = None, None, None
        self._gauges.clear()
        for topic in (self._topics.status, self._topics.gauge_state("+"), self._topics.result):
            await connection.subscribe(topic)
        # Last: by its acknowledgement what the broker keeps of the bay has come, and the birth tells it.
        await connection.subscribe(self._topic("NCMD"), qos=1)
        living = [asyncio.ensure_future(work(connection)) for work in (self._hear, self._tell)]
        leaving = asyncio.ensure_future(self._leaving.wait())
        try:
            done, _ = await asyncio.wait((*living, leaving), return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            await end(*living, leaving)
        # A goodbye by MQTT brings no will about: it is said here.
        await connection.publish(self._topic("NDEATH"), self._death(), qos=1)

    async def _hear(self, connection: Connection) -> None:
        while True:
            message = await connection.next_message()
            if message.topic == self._topic("NCMD"):
                if asks_for(message.payload, REBIRTH):
                    self._told = None
                    self._changed.set()
                continue
            try:
                self._take(message.topic, message.payload)
            except ValueError:  # of a newer daemon, or none of a bay's
                continue
            self._changed.set()

    def _take(self, topic: str, payload: bytes) -> None:
        if topic == self._topics.status:
            self._status = StatusMessage.model_validate_json(payload) if payload else None
        elif topic == self._topics.result:
            result = decode(payload) if payload else None
            if result is not None and not 0 <= result.revision <= REVISION_MAX:
                raise ValueError("no revision")
            self._result = result
        else:
            gauge = topic.removeprefix(f"{self._topics.root}/gauge/").removesuffix("/state")
            if payload and (gauge in self._gauges or len(self._gauges) < GAUGES_MAX):
                self._gauges[gauge] = GaugeStateMessage.model_validate_json(payload)
            elif not payload:
                self._gauges.pop(gauge, None)

    async def _tell(self, connection: Connection) -> None:
        while True:
            await asyncio.sleep(GATHER_S)
            self._changed.clear()
            now = metrics_of(self._status, self._gauges, self._result)
            news = None if self._told is None else changed(self._told, now)
            self._told = now
            if news is None:
                self._seq = 0
                born = [self._number(), Metric(REBIRTH, Type.BOOLEAN, False), *now]
                await connection.publish(self._topic("NBIRTH"), encoded(born, self._now_ms(), 0))
                self._log.info("born", group=self._group, node=self._node, metrics=len(born))
            elif news:
                self._seq = (self._seq + 1) % COUNTS
                await connection.publish(self._topic("NDATA"), encoded(news, self._now_ms(), self._seq))
            await self._changed.wait()
