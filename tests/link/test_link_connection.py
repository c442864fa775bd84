"""Connections: over TLS, with credentials, to brokers that refuse, freeze, hang up or speak only 3.1.1.

Both, the daemon's and the displays', wherever `connect` is an argument.
"""

from __future__ import annotations

import asyncio
import os
import signal
import socket
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from config.errors import ConfigError
from config.settings import MqttSettings
from link import bursts, display
from link.address import BrokerAddress, Will, address_of
from link.broker import BuiltInBroker
from link.connection import Connect, Connection, run_session, stay_connected
from link.errors import CredentialRefusedError, LinkError, PublishRefusedError
from link.looped import UNACKNOWLEDGED_MAX
from tests.link.outside import Mosquitto, ear, mosquitto, until

pytestmark = pytest.mark.slow


@pytest.fixture(params=[bursts, display], ids=["bursts", "display"])
def connect(request: pytest.FixtureRequest) -> Connect[Connection]:
    """Opens a connection: the daemon's, a display's."""
    opens: Connect[Connection] = request.param.connect
    return opens


async def test_over_tls_with_a_credential(secured: Mosquitto, connect: Connect[Connection]) -> None:
    async with ear(secured.address, "a/#") as heard, connect(secured.address) as connection:
        await connection.publish("a/b", b"c", qos=1)
        await heard.until_payload("a/b", "c")
        await connection.subscribe("d")
        long = bytes(1_000_000)  # more than one record of TLS
        for payload in (long, b"", b"e"):
            await connection.publish("d", payload)
        assert [(await connection.next_message()).payload for _ in range(3)] == [long, b"", b"e"]


async def test_settings_give_the_same_address(secured: Mosquitto, tmp_path: Path) -> None:
    (tmp_path / "password").write_text("right\nnot this line\n")
    settings = MqttSettings(
        url=secured.address.url,
        username="bay-2",
        password_file=tmp_path / "password",
        ca_file=tmp_path / "ca.crt",
    )
    assert address_of(settings) == secured.address
    assert "right" not in repr(address_of(settings))
    with pytest.raises(ConfigError, match=r"mqtt.password_file"):
        address_of(settings.model_copy(update={"password_file": tmp_path / "none"}))
    assert address_of(MqttSettings(url="mqtts://broker.example")).port == 8883
    assert address_of(MqttSettings(url="mqtt://broker.example")).port == 1883


async def test_who_is_not_let_in_is_told_why(
    secured: Mosquitto, tmp_path: Path, connect: Connect[Connection]
) -> None:
    with pytest.raises(CredentialRefusedError, match="refused user bay-2: check"):
        async with connect(replace(secured.address, password="wrong")):
            pass
    with pytest.raises(LinkError, match=r"cannot be reached.*certificate"):
        async with connect(replace(secured.address, ca_file=tmp_path / "other.crt")):
            pass
    with pytest.raises(LinkError, match=r"certificate file .* cannot be used"):
        async with connect(replace(secured.address, ca_file=tmp_path / "users")):
            pass


async def test_a_broker_that_only_speaks_3_1_1(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, connect: Connect[Connection]
) -> None:
    monkeypatch.setattr("link.limits.TIMEOUT_S", 0.5)
    broker = BuiltInBroker(MqttSettings(port=0, folder=tmp_path, broker="iotcore"))
    await broker.start()
    async with connect(replace(broker.address(), protocol=5)) as connection:
        await connection.subscribe("a")
        await connection.publish("a", b"b", qos=1)
        assert (await connection.next_message()).payload == b"b"
    await broker.stop()


async def test_nobody_there_is_one_plain_line(tmp_path: Path, connect: Connect[Connection]) -> None:
    address = Mosquitto(tmp_path).address
    with pytest.raises(LinkError, match=rf"^{address.url} cannot be reached: .*refused"):
        async with connect(address):
            pass


async def test_what_does_not_answer_is_given_up_and_leaves_nothing(
    monkeypatch: pytest.MonkeyPatch, connect: Connect[Connection]
) -> None:
    monkeypatch.setattr("link.limits.TIMEOUT_S", 0.2)
    open_ends: list[asyncio.StreamWriter] = []

    async def mute(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        open_ends.append(writer)

    async with await asyncio.start_server(mute, "127.0.0.1", 0) as server:
        port = server.sockets[0].getsockname()[1]
        with pytest.raises(LinkError, match="lets nobody in"):
            async with connect(BrokerAddress("127.0.0.1", port)):
                pass
        waiting = asyncio.ensure_future(connect(BrokerAddress("127.0.0.1", port)).__aenter__())
        before = len(open_ends)
        await until(lambda: len(open_ends) > before)
        waiting.cancel()
        await asyncio.wait([waiting])
        assert waiting.cancelled()
        for end in open_ends:
            end.transport.abort()


async def test_a_frozen_broker_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, connect: Connect[Connection]
) -> None:
    monkeypatch.setattr("link.limits.KEEPALIVE_S", 1)
    async with mosquitto(tmp_path) as broker, connect(broker.address) as connection:
        assert broker.pid is not None
        os.kill(broker.pid, signal.SIGSTOP)
        async with asyncio.timeout(5):
            error = await connection.wait_lost()
        assert "connection to the broker ended" in str(error)


async def test_messages_end_with_the_connection(tmp_path: Path, connect: Connect[Connection]) -> None:
    async with mosquitto(tmp_path) as broker, connect(broker.address) as connection:
        await connection.subscribe("a")
        await connection.publish("a", b"1", qos=1)
        await broker.kill()
        await connection.wait_lost()
        assert (await connection.next_message()).payload == b"1"
        with pytest.raises(LinkError):
            await connection.next_message()
        with pytest.raises(LinkError, match="could not publish a"):
            await connection.publish("a", b"2", qos=1)


async def test_a_burst_arrives_in_order_and_fails_once_the_connection_has_ended(tmp_path: Path) -> None:
    sent = [(f"some/topic/{n % 3}", b"%d" % n) for n in range(500)]
    async with mosquitto(tmp_path) as broker, bursts.connect(broker.address) as connection:
        await connection.subscribe("some/topic/+", qos=0)
        await connection.publish_burst(sent)
        heard = [await connection.next_message() for _ in sent]
        assert [(message.topic, message.payload) for message in heard] == sent
        await broker.kill()
        await connection.wait_lost()
        with pytest.raises(LinkError, match="could not publish some/topic/0"):
            await connection.publish_burst(sent)
        with pytest.raises(LinkError, match="could not publish some/topic/1"):
            await connection.publish_burst(sent[1:2])


async def test_a_burst_waits_for_a_broker_that_takes_no_more_but_not_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    more_than_a_socket_holds = [("some/topic", bytes(100_000))] * 100
    async with mosquitto(tmp_path) as broker, bursts.connect(broker.address) as connection:
        assert broker.pid is not None
        os.kill(broker.pid, signal.SIGSTOP)
        burst = asyncio.ensure_future(connection.publish_burst(more_than_a_socket_holds))
        done, _ = await asyncio.wait([burst], timeout=0.1)
        assert not done
        os.kill(broker.pid, signal.SIGCONT)
        await burst
        await connection.publish("some/topic", b"", qos=1)
        monkeypatch.setattr("link.limits.TIMEOUT_S", 0.1)
        os.kill(broker.pid, signal.SIGSTOP)
        with pytest.raises(LinkError, match="takes no more"):
            await connection.publish_burst(more_than_a_socket_holds)
        os.kill(broker.pid, signal.SIGCONT)  # so that a goodbye is taken


async def test_a_session_is_taken_up_again_and_its_own_error_ends_it(
    tmp_path: Path, connect: Connect[Connection]
) -> None:
    sessions: list[Connection] = []

    async def session(connection: Connection) -> str:
        sessions.append(connection)
        if len(sessions) == 1:
            await broker.kill()
            await asyncio.Event().wait()
        return "done"

    async def failing(_: Connection) -> None:
        raise ZeroDivisionError

    downs: list[LinkError] = []

    async with mosquitto(tmp_path) as broker:
        running = asyncio.ensure_future(
            stay_connected(
                lambda: broker.address, session, connect=connect, will=Will("w", b"x"), on_down=downs.append
            )
        )
        await until(lambda: bool(downs))
        await broker.start()
        assert await running == "done"
        assert len(sessions) == 2
        with pytest.raises(ZeroDivisionError):
            await stay_connected(lambda: broker.address, failing, connect=connect)
        async with connect(broker.address) as connection:
            assert await run_session(connection, session) == "done"


async def test_what_floods_in_at_qos_0_is_bounded_and_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, connect: Connect[Connection]
) -> None:
    monkeypatch.setattr("link.limits.INCOMING_MAX", 3)
    async with mosquitto(tmp_path) as broker, connect(broker.address) as connection:
        await connection.subscribe("a")
        for n in range(5):
            await connection.publish("a", b"%d" % n)
        await until(lambda: connection.dropped == 2)
        assert [(await connection.next_message()).payload for _ in range(3)] == [b"0", b"1", b"2"]


@pytest.mark.parametrize("protocol", [4, 5])
async def test_what_floods_in_at_qos_1_waits_with_the_broker(tmp_path: Path, protocol: int) -> None:
    lines = ["allow_anonymous true", "max_queued_messages 0"]
    async with (
        mosquitto(tmp_path, lines, protocol=protocol) as broker,
        bursts.connect(broker.address) as connection,
    ):
        await connection.subscribe("a")
        for n in range(500):
            await connection.publish("a", b"%d" % n, qos=1)
        await until(lambda: connection._incoming.qsize() >= 1)
        assert connection._incoming.qsize() <= UNACKNOWLEDGED_MAX
        got = [int((await connection.next_message()).payload) for _ in range(500)]
        assert got == list(range(500))
        assert connection.dropped == 0


async def test_what_floods_in_at_qos_1_ends_a_display_rather_than_be_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("link.limits.INCOMING_MAX", 3)
    async with mosquitto(tmp_path) as broker, display.connect(broker.address) as connection:
        await connection.subscribe("a")
        for n in range(5):
            await connection.publish("a", b"%d" % n, qos=1)
        assert "more came than was looked at" in str(await connection.wait_lost())
        assert [(await connection.next_message()).payload for _ in range(3)] == [b"0", b"1", b"2"]
        with pytest.raises(LinkError, match="more came"):
            await connection.next_message()


@pytest.mark.parametrize("protocol", [4, 5])
async def test_what_is_retained_is_told_so_as_far_as_the_protocol_shows(
    tmp_path: Path, protocol: int, connect: Connect[Connection]
) -> None:
    async with mosquitto(tmp_path, protocol=protocol) as broker, connect(broker.address) as connection:
        await connection.subscribe("a")
        await connection.publish("a", b"kept", qos=1, retain=True)
        await connection.publish("a", b"not kept", qos=1)
        heard = [await connection.next_message() for _ in range(2)]
        assert [message.retained for message in heard] == [protocol == 5, False]
        async with connect(broker.address) as later:
            await later.subscribe("a")
            message = await later.next_message()
            assert (message.payload, message.retained) == (b"kept", True)


async def test_small_packets_wait_for_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, connect: Connect[Connection]
) -> None:
    made: list[socket.socket] = []
    create = socket.create_connection

    def watched(*args: Any, **options: Any) -> socket.socket:
        made.append(create(*args, **options))
        return made[-1]

    monkeypatch.setattr(socket, "create_connection", watched)
    async with mosquitto(tmp_path) as broker, connect(broker.address):
        assert [one.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) for one in made] == [1]


async def test_a_topic_that_may_not_be_read_is_told(connect: Connect[Connection]) -> None:
    """MQTT 5, 3.2 and 3.9: let in (0), and then SUBACK with 0x87, not authorized. mosquitto says so to
    nobody."""

    async def strict(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        _, size = await reader.readexactly(2)
        await reader.readexactly(size)
        writer.write(b"\x20\x03\0\0\0")
        _, size = await reader.readexactly(2)
        asked = await reader.readexactly(size)
        writer.write(b"\x90\x04" + asked[:2] + b"\0\x87")
        await reader.read()
        writer.close()

    async with (
        await asyncio.start_server(strict, "127.0.0.1", 0) as server,
        connect(BrokerAddress("127.0.0.1", server.sockets[0].getsockname()[1])) as connection,
    ):
        with pytest.raises(LinkError, match="does not allow to read a"):
            await connection.subscribe("a")


async def test_what_the_broker_refuses_is_told_and_the_connection_goes_on(tmp_path: Path) -> None:
    (tmp_path / "rights").write_text("topic readwrite open/#\ntopic read shut/#\n")
    lines = ["allow_anonymous true", f"acl_file {tmp_path}/rights"]
    async with mosquitto(tmp_path, lines) as broker, bursts.connect(broker.address) as connection:
        with pytest.raises(PublishRefusedError, match=r"refuses shut/1 \(Not authorized\).*access list"):
            await connection.publish("shut/1", b"1", qos=1)
        await connection.publish("open/1", b"1", qos=1)


async def test_plain_mqtt_to_a_port_for_tls_is_said_within_5_s(
    secured: Mosquitto, connect: Connect[Connection]
) -> None:
    async with asyncio.timeout(5):
        with pytest.raises(LinkError, match=r"speaks TLS, not plain MQTT: write mqtts://"):
            async with connect(replace(secured.address, tls=False)):
                pass


async def test_tls_to_a_plain_port_is_said_within_5_s(tmp_path: Path, connect: Connect[Connection]) -> None:
    async with mosquitto(tmp_path) as broker, asyncio.timeout(5):
        with pytest.raises(LinkError, match=r"speaks plain MQTT, not TLS: write mqtt://"):
            async with connect(replace(broker.address, tls=True)):
                pass
