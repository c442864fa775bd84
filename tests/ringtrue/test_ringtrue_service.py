"""Under a service manager: what it hears on its socket, and the unit that ships."""

from __future__ import annotations

import asyncio
import configparser
import os
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from link.tasks import end
from ringtrue.cli import main
from ringtrue.commands.run import BESIDE_NICE, unit
from ringtrue.notify import Notifier
from tests.acquire.stand import Stand
from tests.ringtrue.test_ringtrue_run import ringtrue

# Longest wait for a datagram of a daemon that starts on a busy machine, seconds.
HEAR_S = 20.0


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    """The socket of a service manager, at `tmp_path / "notify"`."""
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as heard:
        heard.bind(str(tmp_path / "notify"))
        heard.setblocking(False)
        yield heard


def watched(tmp_path: Path, time_us: int = 20_000) -> dict[str, str]:
    return {
        "NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": str(time_us),
        "WATCHDOG_PID": str(os.getpid()), "HOME": "/",
    }  # fmt: skip


@pytest.mark.slow
async def test_the_daemon_says_when_it_is_ready_that_it_lives_and_when_it_stops(
    manager: socket.socket, tmp_path: Path
) -> None:
    loop = asyncio.get_running_loop()
    said: list[bytes] = []

    async def hear(word: bytes) -> None:
        async with asyncio.timeout(HEAR_S):
            while not said or said[-1] != word:
                said.append(await loop.sock_recv(manager, 100))

    config = Stand().config(tmp_path, "port = 0")
    environ = {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "100000"}
    async with ringtrue("run", "--config", config, **environ) as daemon:
        await hear(b"READY=1")
        await hear(b"WATCHDOG=1")
        daemon.process.send_signal(signal.SIGTERM)
        await hear(b"STOPPING=1")
        assert await daemon.ended() == 0
    assert set(said) == {b"READY=1", b"WATCHDOG=1", b"STOPPING=1"}
    assert said.count(b"READY=1") == said.count(b"STOPPING=1") == 1


async def test_a_loop_that_hangs_does_not_say_that_it_lives(manager: socket.socket, tmp_path: Path) -> None:
    notifier = Notifier(watched(tmp_path))
    assert notifier.watchdog_s == 0.02
    loop = asyncio.get_running_loop()
    pings = asyncio.ensure_future(notifier.keep_alive())
    try:
        for _ in range(3):
            assert await loop.sock_recv(manager, 100) == b"WATCHDOG=1"
        manager.settimeout(10 * notifier.watchdog_s)
        with pytest.raises(TimeoutError):
            manager.recv(100)  # holds the loop, as a fault of ours would
        manager.setblocking(False)
        assert await loop.sock_recv(manager, 100) == b"WATCHDOG=1"
    finally:
        await end(pings)


def test_the_managers_variables_are_not_handed_on(manager: socket.socket, tmp_path: Path) -> None:
    environ = watched(tmp_path)
    Notifier(environ).ready()
    assert environ == {"HOME": "/"}
    assert manager.recv(100) == b"READY=1"


def test_an_abstract_socket_is_one() -> None:
    name = f"@ringtrue-{os.getpid()}"
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as heard:
        heard.bind("\0" + name[1:])
        Notifier({"NOTIFY_SOCKET": name}).stopping()
        assert heard.recv(100) == b"STOPPING=1"


@pytest.mark.parametrize(
    "environ",
    [
        {}, {"WATCHDOG_USEC": "1000"}, {"NOTIFY_SOCKET": "/nowhere", "WATCHDOG_USEC": "no"},
        {"NOTIFY_SOCKET": "/nowhere", "WATCHDOG_USEC": "1000", "WATCHDOG_PID": "1"},
    ],
)  # fmt: skip
async def test_without_a_watchdog_meant_for_us_nothing_is_said(environ: dict[str, str]) -> None:
    notifier = Notifier(environ)
    assert notifier.watchdog_s is None
    await notifier.keep_alive()
    notifier.ready()


def test_the_unit_is_of_this_installation_and_of_what_the_program_takes(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["run", "--unit"]) == 0
    printed = capsys.readouterr().out
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str  # type: ignore[assignment, method-assign]  # put in its place for this test
    parser.read_string(unit(Path("/srv/environment")))
    service = parser["Service"]
    assert service["ExecStart"].startswith("/srv/environment/bin/ringtrue run --config ")
    assert service["ExecStart"].split()[-1].startswith(service["ReadWritePaths"] + "/")
    assert f"ExecStart={Path(sys.prefix)}/bin/ringtrue run" in printed
    assert int(service["Nice"]) == -BESIDE_NICE
    assert (service["Type"], service["KillMode"], service["NoNewPrivileges"]) == ("notify", "mixed", "yes")
