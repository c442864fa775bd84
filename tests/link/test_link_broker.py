"""The built-in broker: both programs, judged through clients that are not ours."""

from __future__ import annotations

import asyncio
import os
import select
import shutil
import signal
import socket
import stat
import subprocess
import sys
from collections.abc import AsyncIterator, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest

from config.settings import MqttSettings
from link.broker import USERNAME, BuiltInBroker, Program, built_in_address
from link.bursts import connect
from link.errors import BrokerError, CredentialRefusedError, LinkError, PublishRefusedError
from link.tasks import end

pytestmark = pytest.mark.slow

PROGRAMS: tuple[Program, ...] = ("mosquitto", "iotcore")


@pytest.fixture(params=PROGRAMS)
async def broker(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[BuiltInBroker]:
    broker = BuiltInBroker(MqttSettings(port=0, folder=tmp_path / "broker", broker=request.param))
    await broker.start()
    yield broker
    await broker.stop()


async def client(
    broker: BuiltInBroker, tool: str, *arguments: str, credential: bool = True
) -> tuple[int, str]:
    """One of mosquitto's own clients: its exit code and what it printed."""
    address = broker.address()
    login = ("-u", USERNAME, "-P", broker.password_file.read_text().strip()) if credential else ()
    process = await asyncio.create_subprocess_exec(
        tool, "-h", address.host, "-p", str(address.port), *login, *arguments,
        stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT,
    )  # fmt: skip
    printed, _ = await process.communicate()
    return process.returncode or 0, printed.decode()


async def test_credential_and_files_are_for_their_owner_only(broker: BuiltInBroker) -> None:
    folder = broker.password_file.parent
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}
    assert len(broker.password_file.read_text().strip()) >= 32


async def test_a_retained_message_reaches_an_independent_client(broker: BuiltInBroker) -> None:
    async with connect(broker.address()) as connection:
        await connection.publish("ringtrue/1/q/b/status", b'{"state":"online"}', qos=1, retain=True)
    code, printed = await client(
        broker, "mosquitto_sub", "-t", "ringtrue/#", "-C", "1", "-W", "5", "-F", "%r %p"
    )
    assert (code, printed.strip()) == (0, '1 {"state":"online"}')


async def test_who_may_do_what_without_a_credential(
    broker: BuiltInBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("link.limits.TIMEOUT_S", 0.5)
    async with connect(broker.address()) as connection:
        await connection.publish("ringtrue/1/q/b/live", b"{}", qos=1, retain=True)
        await connection.subscribe("ringtrue/1/q/b/command/+")
        anonymous = replace(broker.address(), username=None, password=None)
        code, printed = await client(
            broker, "mosquitto_sub", "-t", "ringtrue/1/q/b/live", "-C", "1", "-W", "1", credential=False
        )
        assert (printed.strip() == "{}") is broker.anonymous_reading
        assert (code == 0) is broker.anonymous_reading
        # mosquitto lets in and refuses the message; the other lets nobody in
        with suppress(LinkError, PublishRefusedError):
            async with connect(anonymous) as other:
                await other.publish("ringtrue/1/q/b/command/open", b"from nobody", qos=1)
        await client(
            broker,
            "mosquitto_pub",
            "-t",
            "ringtrue/1/q/b/command/open",
            "-m",
            "from nobody",
            credential=False,
        )
        await connection.publish("ringtrue/1/q/b/command/open", b"from us", qos=1)
        assert (await connection.next_message()).payload == b"from us"


OF_THE_BAY = ("result", "live", "status", "inspection/i/result", "reply/r", "gauge/g/state", "chain")


async def test_who_may_send_commands_says_nothing_in_the_bays_name(broker: BuiltInBroker) -> None:
    """A display's credential in wrong hands makes no `keep` on the wall; the other broker has no rights per
    topic, which its users are told."""
    asking = built_in_address(MqttSettings(folder=broker.password_file.parent))
    said = []
    async with connect(asking) as forger, connect(broker.address()) as bay:
        await bay.subscribe("#")
        for topic in OF_THE_BAY:
            with suppress(PublishRefusedError):
                await forger.publish(f"ringtrue/1/q/b/{topic}", b"{}", qos=1)
        for topic in ("ringtrue/1/q/method", "spBv1.0/q/NBIRTH/b", "ringtrue/1/q/b/command/open"):
            await forger.publish(topic, b"{}", qos=1)
        while "ringtrue/1/q/b/command/open" not in said:
            said.append((await bay.next_message()).topic)
    forged = 0 if broker.program == "mosquitto" else len(OF_THE_BAY)
    assert len(said) == forged + 3


async def test_a_burst_for_one_that_is_slow_is_kept_whole(broker: BuiltInBroker) -> None:
    number = 3000
    async with connect(broker.address()) as slow, connect(broker.address()) as quick:
        await slow.subscribe("burst")
        for n in range(number):
            await quick.publish("burst", b"%d" % n, qos=1)
        async with asyncio.timeout(20):
            got = [int((await slow.next_message()).payload) for _ in range(number)]
    assert got == list(range(number))


async def test_a_wrong_password_is_told_as_such(
    broker: BuiltInBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("link.limits.TIMEOUT_S", 0.5)
    wrong = replace(broker.address(), password="wrong")
    with pytest.raises(LinkError, match="user name and password") as caught:
        async with connect(wrong):
            pass
    if broker.program == "mosquitto":
        assert isinstance(caught.value, CredentialRefusedError)


async def test_the_address_is_found_from_the_folder_while_it_runs(broker: BuiltInBroker) -> None:
    settings = MqttSettings(folder=broker.password_file.parent)
    found = built_in_address(settings)
    assert (found.url, found.username) == (broker.address().url, USERNAME)
    assert found.password == broker.password_file.read_text().strip() != broker.address().password
    await broker.stop()
    with pytest.raises(BrokerError, match="no broker runs"):
        built_in_address(settings)


async def test_a_broker_that_was_killed_comes_back_on_its_port(broker: BuiltInBroker) -> None:
    back = asyncio.Event()
    keeping = asyncio.ensure_future(broker.run(back.set))
    first, address = broker.pid, broker.address()
    assert first is not None
    os.kill(first, signal.SIGKILL)
    await asyncio.wait_for(back.wait(), 10)
    assert broker.pid != first
    assert broker.restarts == 1
    async with connect(address) as connection:
        await connection.publish("a", b"b", qos=1)
    await end(keeping)


async def test_mosquitto_keeps_retained_messages_over_a_restart(tmp_path: Path) -> None:
    settings = MqttSettings(port=0, folder=tmp_path, broker="mosquitto")
    for _ in range(2):
        broker = BuiltInBroker(settings)
        await broker.start()
        async with connect(broker.address()) as connection:
            await connection.subscribe("kept")
            if _ == 0:
                await connection.publish("kept", b"1", qos=1, retain=True)
            message = await asyncio.wait_for(connection.next_message(), 5)
            assert message.payload == b"1"
        await broker.stop()


@pytest.mark.parametrize("program", PROGRAMS)
async def test_a_port_that_is_taken_is_one_plain_error(
    program: Program, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("link.broker.PORT_MAX_S", 0.0)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        broker = BuiltInBroker(MqttSettings(port=port, folder=tmp_path, broker=program))
        with pytest.raises(
            BrokerError, match=rf"^port {port} on 127\.0\.0\.1 cannot be had .*another \[mqtt\] port"
        ):
            await broker.start()
    assert broker.pid is None


async def test_a_broker_that_will_not_start_says_why(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broker = BuiltInBroker(MqttSettings(port=0, folder=tmp_path, broker="mosquitto"))
    broken = tmp_path / "broken.conf"
    broken.write_text("listener nowhere\n")
    monkeypatch.setattr(broker, "_write_mosquitto", lambda: broken)
    with pytest.raises(BrokerError, match=r"mosquitto did not start to listen at .*listener"):
        await broker.start()
    assert broker.pid is None


def test_without_mosquitto_the_other_serves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda *_, **__: None)
    assert BuiltInBroker(MqttSettings(folder=tmp_path)).program == "iotcore"
    with pytest.raises(BrokerError, match="mosquitto is not installed"):
        BuiltInBroker(MqttSettings(folder=tmp_path, broker="mosquitto"))


OWNER = """
import asyncio, sys
from pathlib import Path
from link.broker import BuiltInBroker
from config.settings import MqttSettings
async def main():
    broker = BuiltInBroker(MqttSettings(port=0, folder=Path(sys.argv[1]), broker=sys.argv[2]))
    await broker.start()
    print(broker.pid, flush=True)
    await asyncio.Event().wait()
asyncio.run(main())
"""


@pytest.fixture
def owner(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[subprocess.Popen[str]]:
    """A process that owns a broker and prints its pid."""
    root = Path(__file__).parents[2]
    process = subprocess.Popen(
        [sys.executable, "-c", OWNER, str(tmp_path / "broker"), request.param],
        stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(root)},
    )  # fmt: skip
    yield process
    process.kill()
    process.wait()
    assert process.stdout is not None
    process.stdout.close()


@pytest.mark.parametrize("owner", PROGRAMS, indirect=True)
def test_the_broker_dies_with_its_owner_even_after_kill_9(owner: subprocess.Popen[str]) -> None:
    assert owner.stdout is not None
    pid = int(owner.stdout.readline())
    watching = os.pidfd_open(pid)
    try:
        owner.kill()
        # A pidfd becomes readable when its process has ended.
        assert select.select([watching], [], [], 5)[0], "the broker outlived its owner"
    finally:
        os.close(watching)
