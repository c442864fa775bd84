"""What a broker refuses for a while is told, offered again, and forgotten once it is taken."""

from __future__ import annotations

import asyncio
import json
import random
from collections.abc import Awaitable, Callable, Collection

import pytest

from acquire.publisher import Publisher
from contract.topics import Topics
from link.connection import BrokerAddress, Connection, stay_connected
from link.tasks import end
from simulators.loop import VirtualLoop
from tests.acquire.hand_clock import HandClock
from tests.virtual.broker import MemoryBroker

TOPICS = Topics("greywacke", "bay-2")
STATE = TOPICS.gauge_state("indicator-1")


class NoOutbox:
    async def pending(self, limit: int, without: Collection[int] = ()) -> list[object]:
        return []

    async def done(self, row_id: int) -> None:
        raise AssertionError(row_id)


def told(play: Callable[[MemoryBroker, Publisher], Awaitable[None]]) -> MemoryBroker:
    """Play with a publisher that is connected; the broker afterwards."""
    clock = HandClock()
    loop = VirtualLoop(clock)
    broker = MemoryBroker(random.Random(1), clock.monotonic_ns, TOPICS)

    async def run() -> None:
        publisher = Publisher(TOPICS, NoOutbox(), live=lambda: b"{}", on_command=lambda *_: None)  # type: ignore[arg-type]
        address = BrokerAddress("broker", 1883)

        async def session(connection: Connection) -> None:
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
