"""Several gauges on one port: each is read, each stands as it stands, and the port is opened once."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Sequence
from pathlib import Path

import pytest

from acquire.clock import RealClock
from config.profile import FreeRunning, GaugeProfile, PortSettings, Requested, SerialPort
from config.sharing import User
from config.usb import UsbIdentity
from drivers.errors import PortError, PortTakenError
from drivers.finding import doubled_now
from drivers.instrument import Instrument
from drivers.reader import PortReader
from drivers.sharing import SharedPorts
from drivers.state import PortState
from drivers.transports import OpenPort, open_port
from tests.drivers.support import FarSide, Heard, MemoryFarSide, PtyFarSide, at_work, profile, settings
from tests.drivers.test_drivers_finding import Listed

LINE = b"A+000.190 B+042.270\r\n"
NAMES = ("channels-first-mm", "channels-second-mm")


def channels(manner: FreeRunning | Requested | None = None) -> list[GaugeProfile]:
    """Never silent in a test, unless it is said."""
    manner = manner or FreeRunning(kind="free-running", period_s=30.0)
    return [profile(name).model_copy(update={"manner": manner}) for name in NAMES]


@pytest.fixture(params=["pty", "memory"])
async def far(request: pytest.FixtureRequest, tmp_path: Path) -> FarSide:
    """With a descriptor, and without."""
    far: FarSide = PtyFarSide(tmp_path) if request.param == "pty" else MemoryFarSide()
    await far.plug()
    return far


class Openings:
    """What is opened, and that by nobody else meanwhile."""

    def __init__(self, opener: Callable[[str, PortSettings], OpenPort]) -> None:
        self.number = 0
        self._opener = opener

    def __call__(self, name: str, port: PortSettings) -> OpenPort:
        opened = self._opener(name, port)
        self.number += 1
        return opened


@contextlib.asynccontextmanager
async def both(
    far: FarSide, kinds: Sequence[GaugeProfile]
) -> AsyncIterator[tuple[list[Heard], Openings, list[Instrument]]]:
    """Two instruments on one port."""
    clock, openings, heard = RealClock(), Openings(far.opener), [Heard(), Heard()]
    async with PortReader(clock) as reader, contextlib.AsyncExitStack() as stack:
        shared = SharedPorts(openings, reader)
        instruments = [
            Instrument(
                settings(far.port, id=f"gauge-{n}"),
                kind,
                shared,
                clock,
                who.on_reading,
                who.on_state,
                opener=shared.open,
                finder=lambda *_: far.port,
            )
            for n, (kind, who) in enumerate(zip(kinds, heard, strict=True))
        ]
        for instrument in instruments:
            await stack.enter_async_context(at_work(instrument))
        yield heard, openings, instruments


async def all_at(heard: Sequence[Heard], state: PortState) -> None:
    for who in heard:
        await who.until_state(state)


async def test_each_reads_its_own_of_a_line_and_the_port_is_opened_once(far: FarSide) -> None:
    async with both(far, channels()) as (heard, openings, instruments):
        await all_at(heard, PortState.HUNTING)
        far.send(b"\r\n" + LINE * 3)
        for who in heard:
            await who.until_readings(3)
        assert [who.values for who in heard] == [[190_000] * 3, [42_270_000] * 3]
        assert openings.number == 1
        told = [instrument.statistics().queue for instrument in instruments]
        assert told[0] == told[1]
        assert told[0].bytes_in == 3 * len(LINE) + 2


async def test_unplugged_and_back_both_are_read_again(far: FarSide) -> None:
    async with both(far, channels()) as (heard, openings, _):
        await all_at(heard, PortState.HUNTING)
        far.send(b"\r\n" + LINE)
        await all_at(heard, PortState.LIVE)
        await far.unplug()
        await all_at(heard, PortState.ABSENT)
        await far.plug()
        await all_at(heard, PortState.HUNTING)
        far.send(b"\r\n" + LINE)
        await all_at(heard, PortState.LIVE)
        assert openings.number == 2
    assert [len(who.values) for who in heard] == [2, 2]


async def test_who_has_a_failure_of_its_own_is_back_and_the_other_never_noticed(far: FarSide) -> None:
    async with both(far, channels()) as (heard, openings, instruments):
        await all_at(heard, PortState.HUNTING)
        far.send(b"\r\n" + LINE)
        await all_at(heard, PortState.LIVE)
        passed = len(heard[1].states)
        instruments[0].ended("of its own")
        await heard[0].until(lambda: PortState.LOST in heard[0].passed)
        await heard[0].until_state(PortState.HUNTING)
        far.send(b"\r\n" + LINE)
        await heard[0].until_readings(2)
        await heard[1].until_readings(2)
        assert len(heard[1].states) == passed
        assert openings.number == 1


async def test_what_only_one_of_them_understands_leaves_the_other_as_it_is(far: FarSide) -> None:
    kinds = channels()
    alone = kinds[1].value.model_copy(update={"pattern": r".*B(?P<value>[+-]\d{3}\.\d{3})"})
    kinds[1] = kinds[1].model_copy(update={"value": alone})
    async with both(far, kinds) as (heard, *_):
        await all_at(heard, PortState.HUNTING)
        far.send(b"\r\n" + LINE)
        await all_at(heard, PortState.LIVE)
        far.send(b"AERR B+042.270\r\n" * 9)
        await heard[1].until_readings(10)
        await heard[0].until_state(PortState.SILENT)
        assert heard[1].states[-1].state is PortState.LIVE


async def test_a_box_that_is_asked_is_asked_by_one_at_a_time(far: FarSide) -> None:
    asking = Requested(kind="requested", request="?\r", period_s=0.01, timeout_s=5.0)
    async with both(far, channels(asking)) as (heard, *_):
        await all_at(heard, PortState.HUNTING)
        for _ in range(6):
            assert await asyncio.wait_for(far.asked(2), 5) == b"?\r"
            with pytest.raises(TimeoutError):  # until it has answered nobody else asks
                await asyncio.wait_for(far.asked(1), 0.03)
            far.send(LINE)
        for who, value in zip(heard, (190_000, 42_270_000), strict=True):
            await who.until_readings(5)
            assert set(who.values) == {value}


async def test_the_port_is_let_go_with_the_last_of_them(tmp_path: Path) -> None:
    far = PtyFarSide(tmp_path)
    await far.plug()
    async with both(far, channels()) as (heard, *_):
        await all_at(heard, PortState.HUNTING)
        with pytest.raises(PortTakenError):
            open_port(far.port, SerialPort())
    open_port(far.port, SerialPort()).close()


def user(key: str, where: str | UsbIdentity, kind: GaugeProfile | None = None) -> User:
    port, usb = (where, None) if isinstance(where, str) else (None, where)
    return User(key, ("gauge", int(key)), port, usb, SerialPort(), kind)


def test_what_is_one_device_now_is_told_by_both_kinds_of_names(tmp_path: Path) -> None:
    (tmp_path / "tty").touch()
    (tmp_path / "link").symlink_to(tmp_path / "tty")
    usb = UsbIdentity(vendor=0x1234, product=0x0001)
    one, other = user("0", str(tmp_path / "link")), user("1", usb)

    def told(*several: User, device: str = str(tmp_path / "tty")) -> list[tuple[object, ...]]:
        return [said[:2] for said in doubled_now(several, lambda _: [Listed(device)])]

    assert told(one, other) == [(("gauge", 1, "usb"), "1 usb")]
    assert told(other, one) == [(("gauge", 0, "port"), "0 port")]
    assert told(one, other, device=str(tmp_path / "another")) == []
    assert told(one) == []

    def refuses(_: PortSettings) -> list[Listed]:
        raise PortError("it may not be opened by this user")

    assert list(doubled_now([one, other], refuses)) == []
    first, second = channels()
    assert told(user("0", str(tmp_path / "link"), first), user("1", usb, second)) == []
