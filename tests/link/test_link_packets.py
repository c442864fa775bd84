"""Messages at QoS 0, which are written as bytes of our own: a broker and its subscriber read them."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from link.bursts import connect
from link.connection import Connection
from link.packets import publish_packet
from tests.link.outside import Mosquitto, mosquitto

# What a length takes one byte more from on (MQTT 3.1.1, 2.2.3), each side of it.
EDGES = (127, 128, 16_383, 16_384, 2_097_151, 2_097_152)


@pytest.mark.slow
@pytest.mark.parametrize("protocol", [4, 5])
async def test_messages_of_any_length_arrive_whole(tmp_path: Path, protocol: int) -> None:
    topic = "räume/1"
    head = 2 + len(topic.encode()) + (protocol == 5)
    async with (
        mosquitto(tmp_path, protocol=protocol) as broker,
        connect(broker.address) as connection,
    ):
        await connection.subscribe("#")
        for size in (0, *(edge - head for edge in EDGES)):
            payload = os.urandom(size)
            await connection.publish_burst([(topic, payload), (topic, b"next")])
            assert [await _heard(connection) for _ in range(2)] == [(topic, payload), (topic, b"next")]
        await connection.publish(topic, b"kept", retain=True)
        await _heard(connection)
        async with connect(broker.address) as later:
            await later.subscribe(topic)
            message = await later.next_message()
            assert (message.payload, message.retained) == (b"kept", True)


@pytest.mark.parametrize("topic", ["", "a/+", "a/#", "a\0", "a" * 65_536])
def test_what_is_no_topic_is_not_written(topic: str) -> None:
    with pytest.raises(ValueError, match="is no topic to publish under"):
        publish_packet(topic, b"", 5)


def test_what_no_broker_could_take_is_not_written() -> None:
    with pytest.raises(ValueError, match="too many for one message"):
        publish_packet("a", bytes(268_435_456), 4)


@pytest.mark.slow
@pytest.mark.parametrize("tls", [False, True])
async def test_a_full_socket_mixes_no_packets(tls: bool, tmp_path: Path, secured: Mosquitto) -> None:
    """Bursts, and messages of the library's, while the broker reads nothing: each arrives whole and once."""
    async with _broker(tls, tmp_path, secured) as broker, connect(broker.address) as ear:
        await ear.subscribe("#")
        async with connect(broker.address) as connection:
            assert broker.pid is not None
            os.kill(broker.pid, signal.SIGSTOP)
            sent = [(f"burst/{n}", bytes([n]) * 100_000) for n in range(100)]
            work = [
                asyncio.ensure_future(some)
                for n in range(0, 100, 25)
                for some in (
                    connection.publish_burst(sent[n : n + 25]),
                    connection.publish(f"library/{n}", b"x" * 50_000, qos=1),
                )
            ]
            _, waiting = await asyncio.wait(work, timeout=0.1)
            assert len(waiting) > 4, "the socket took more than it should"
            os.kill(broker.pid, signal.SIGCONT)
            await asyncio.gather(*work)
            heard = [await _heard(ear) for _ in range(104)]
    assert [one for one in heard if one[0].startswith("burst")] == sent
    assert sorted(topic for topic, _ in heard if topic.startswith("library")) == [
        f"library/{n}" for n in (0, 25, 50, 75)
    ]


@asynccontextmanager
async def _broker(tls: bool, folder: Path, secured: Mosquitto) -> AsyncIterator[Mosquitto]:
    if tls:
        yield secured
    else:
        async with mosquitto(folder, ["allow_anonymous true", "max_queued_messages 0"]) as plain:
            yield plain


async def _heard(connection: Connection) -> tuple[str, bytes]:
    async with asyncio.timeout(10):
        message = await connection.next_message()
    return message.topic, message.payload
