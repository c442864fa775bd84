"""What a broker refuses for a while is told, offered again, and forgotten once it is taken."""

from __future__ import annotations

import asyncio
import json
import random
from collections.abc import Awaitable, Callable, Collection
from dataclasses import dataclass
from typing import Any

import pytest

from acquire.publisher import Publisher
from contract.topics import Topics
from link.address import BrokerAddress
from link.bursts import BurstConnection
from link.connection import stay_connected
from link.tasks import end
from simulators.loop import VirtualLoop
from tests.acquire.hand_clock import HandClock
from tests.virtual.broker import MemoryBroker

TOPICS = Topics("greywacke", "bay-2")
STATE = TOPICS.gauge_state("indicator-1")


@dataclass(frozen=True)
class Row:
    id: int
    topic: str
    payload: bytes
    retain: bool = True


class NoOutbox:
    async def pending(self, limit: int, without: Collection[int] = ()) -> list[Row]:
        return []

    async def done(self, row_id: int) -> None:
        raise AssertionError(row_id)


@dataclass
class OneRow(NoOutbox):
    rows: list[Row]

    async def pending(self, limit: int, without: Collection[int] = ()) -> list[Row]:
        return list(self.rows)

    async def done(self, row_id: int) -> None:
        self.rows.clear()


def told(
    play: Callable[[MemoryBroker, Publisher], Awaitable[None]], outbox: Any = None, seed: int = 1
) -> MemoryBroker:
    """Play with a publisher that is connected; the broker afterwards."""
    clock = HandClock()
    loop = VirtualLoop(clock)
    broker = MemoryBroker(random.Random(seed), clock.monotonic_ns, TOPICS)

    async def run() -> None:
        waiting: Any = outbox or NoOutbox()
        publisher = Publisher(TOPICS, waiting, live=lambda: b"{}", on_command=lambda *_: None)
        address = BrokerAddress("broker", 1883)

        async def session(connection: BurstConnection) -> None:
            await publisher.session(connection)

        running = asyncio.ensure_future(stay_connected(lambda: address, session, connect=broker.connect))
        try:
            await play(broker, publisher)
        finally:
            await end(running)

    try:
        loop.run_until_complete(run())
    finally:
        loop.close()
    return broker


def warnings(broker: MemoryBroker) -> list[str]:
    # A list of the document.
    return json.loads(broker.retained[TOPICS.status]).get("warnings", [])  # type: ignore[no-any-return]


def test_a_gauge_state_that_was_refused_is_there_once_it_is_allowed() -> None:
    async def play(broker: MemoryBroker, publisher: Publisher) -> None:
        broker.refused.add("/gauge/")
        await asyncio.sleep(1.0)
        publisher.keep(STATE, b"live")
        await asyncio.sleep(1.0)
        assert STATE in warnings(broker)[0]
        broker.refused.clear()
        await asyncio.sleep(100.0)

    broker = told(play)
    assert broker.retained[STATE] == b"live"
    assert warnings(broker) == []


@pytest.mark.parametrize("allowed_after_s", [0.001, 5.0])
def test_a_status_that_was_refused_is_there_once_it_is_allowed(allowed_after_s: float) -> None:
    async def play(broker: MemoryBroker, publisher: Publisher) -> None:
        broker.refused.add("/status")
        publisher.warn("the disk is full")
        await asyncio.sleep(allowed_after_s)
        broker.refused.clear()
        await asyncio.sleep(100.0)

    broker = told(play)
    assert json.loads(broker.retained[TOPICS.status]) == {"state": "online", "warnings": ["the disk is full"]}


def test_replies_that_were_refused_are_no_longer_warned_of_once_another_is_taken() -> None:
    async def play(broker: MemoryBroker, publisher: Publisher) -> None:
        broker.refused.add("/reply/")
        for n in range(3):
            publisher.reply(f"r{n}", b"{}")
        await asyncio.sleep(1.0)
        (warning,) = warnings(broker)
        assert "/reply/" in warning
        assert "topics more" not in warning
        broker.refused.clear()
        publisher.reply("r3", b"{}")
        await asyncio.sleep(1.0)

    assert warnings(told(play)) == []


def test_a_warning_that_comes_while_the_first_status_is_on_its_way_is_said() -> None:
    async def play(broker: MemoryBroker, publisher: Publisher) -> None:
        while not broker.taken:  # noqa: ASYNC110 each turn is a step of virtual time
            await asyncio.sleep(0.0001)
        publisher.warn("the disk is full")
        await asyncio.sleep(1.0)

    assert warnings(told(play)) == ["the disk is full"]


@pytest.mark.parametrize("others", range(4))
def test_after_a_connect_the_result_of_before_never_overtakes_the_new_one(others: int) -> None:
    async def play(_: MemoryBroker, publisher: Publisher) -> None:
        for n in range(others):
            publisher.keep(TOPICS.gauge_state(f"g{n}"), b"live")
        publisher.keep(TOPICS.result, b"old")
        await asyncio.sleep(5.0)

    for seed in range(20):
        broker = told(play, OneRow([Row(1, TOPICS.result, b"new")]), seed)
        assert broker.retained[TOPICS.result] == b"new", seed
