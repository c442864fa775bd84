from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator
from contextlib import closing

import pytest

import drivers.instrument
from drivers.errors import PortAbsentError
from drivers.plugs import SETTLE_S, KernelNews, NoNews, kernel_socket, tells_of_a_device
from drivers.state import PortState
from drivers.transports import OpenPort
from tests.drivers.support import Heard, MemoryFarSide, profile, running, settings

# As kernel 6.1 sent it for an emulated adapter; shortened.
ADDED = (
    b"add@/devices/pci0000:00/0000:00:04.0/usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0\0ACTION=add\0"
    b"DEVPATH=/devices/pci0000:00/0000:00:04.0/usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0\0"
    b"SUBSYSTEM=tty\0MAJOR=188\0MINOR=0\0DEVNAME=ttyUSB0\0SEQNUM=1402\0"
)
FOR_EVER_S = 60.0
KEY = profile("line-key-mm")


@pytest.fixture
def ends() -> Iterator[tuple[socket.socket, socket.socket]]:
    """What stands for the kernel, and where it is heard; the second is closed by whoever listens."""
    kernel, heard = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    heard.setblocking(False)
    with closing(kernel), closing(heard):
        yield kernel, heard


@pytest.mark.parametrize(
    ("message", "is_news"),
    [
        (ADDED, True),
        (ADDED.replace(b"ACTION=add", b"ACTION=remove"), False),
        (ADDED.replace(b"SUBSYSTEM=tty", b"SUBSYSTEM=block"), False),
        (ADDED.replace(b"SUBSYSTEM=tty", b"SUBSYSTEM=hidraw"), True),
        (ADDED.replace(b"SUBSYSTEM=tty", b"SUBSYSTEM=input"), True),
        (b"libudev\0\xfe\xed\xca\xfe", False),
        (b"", False),
    ],
)
def test_only_what_a_gauge_may_be_at_is_news(message: bytes, is_news: bool) -> None:
    assert tells_of_a_device(message) is is_news


def test_anybody_may_listen_to_the_kernel() -> None:
    with closing(kernel_socket()) as kernel:
        assert not kernel.getblocking()


async def test_all_who_wait_are_told_once_for_all_messages_of_a_device(
    ends: tuple[socket.socket, socket.socket],
) -> None:
    kernel, heard = ends
    async with KernelNews(lambda: heard) as plugs:
        waiting = [asyncio.ensure_future(plugs.wait(FOR_EVER_S)) for _ in range(3)]
        await asyncio.sleep(0)
        for _ in range(10):
            kernel.send(ADDED)
        assert await asyncio.gather(*waiting) == [True, True, True]
        assert await plugs.wait(2 * SETTLE_S) is False, "told twice"


async def test_what_is_no_news_wakes_nobody(ends: tuple[socket.socket, socket.socket]) -> None:
    kernel, heard = ends
    async with KernelNews(lambda: heard) as plugs:
        kernel.send(ADDED.replace(b"ACTION=add", b"ACTION=change"))
        assert await plugs.wait(2 * SETTLE_S) is False


async def test_where_nobody_tells_it_is_only_waited() -> None:
    def none() -> socket.socket:
        raise PermissionError

    for plugs in (KernelNews(none), NoNews()):
        async with plugs:
            assert await plugs.wait(0.01) is False


async def test_a_gauge_plugged_in_is_opened_when_the_kernel_tells(
    ends: tuple[socket.socket, socket.socket],
    memory: MemoryFarSide,
    heard: Heard,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for pause in ("FIRST_PAUSE_S", "LONGEST_PAUSE_S"):  # of itself it does not look again
        monkeypatch.setattr(drivers.instrument, pause, FOR_EVER_S)
    kernel, far = ends
    loop, looked = asyncio.get_running_loop(), asyncio.Event()

    def opener(*_: object) -> OpenPort:
        loop.call_soon_threadsafe(looked.set)
        if not memory.plugged:
            raise PortAbsentError("not there")
        return memory.opener("m", KEY.port)

    memory.plugged = False
    async with (
        KernelNews(lambda: far) as plugs,
        running(settings(), KEY, heard, opener=opener, finder=lambda *_: "m", plugs=plugs),
    ):
        await looked.wait()
        await heard.until_state(PortState.ABSENT)
        memory.plugged = True
        kernel.send(ADDED)
        await heard.until_state(PortState.LIVE)
