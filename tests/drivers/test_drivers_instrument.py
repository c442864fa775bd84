from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from acquire.clock import RealClock
from config.profile import PortSettings
from config.settings import GaugeSettings
from drivers.errors import PortAbsentError, PortError
from drivers.finding import find_port
from drivers.instrument import LONGEST_PAUSE_S, MISSES_TO_SILENCE, PAUSE_SPREAD, Instrument
from drivers.port import OpenPort
from drivers.reader import PortReader
from drivers.reading import Reading
from drivers.state import GaugeState, PortState
from simulators.port import PtyPort
from tests.drivers.support import (
    Heard,
    MemoryFarSide,
    MemoryPort,
    at_work,
    free_running,
    profile,
    requested,
    running,
    settings,
    wait_until,
)
from tests.drivers.test_drivers_finding import Listed

NOTICE_S = 2.0
KEY = profile("line-key-mm")


@pytest.fixture
def heard() -> Heard:
    return Heard()


@pytest.fixture
def pty(tmp_path: Path) -> Iterator[PtyPort]:
    with PtyPort(tmp_path / "gauge") as port:
        yield port


@pytest.fixture
async def memory() -> MemoryFarSide:
    far = MemoryFarSide()
    await far.plug()
    return far


def remembered(
    reader: PortReader, heard: Heard, opener: Callable[[str, PortSettings], OpenPort]
) -> Instrument:
    """A key-press instrument on a port in memory."""
    return Instrument(
        settings(),
        KEY,
        reader,
        RealClock(),
        heard.on_reading,
        heard.on_state,
        opener=opener,
        finder=lambda _: "m",
    )


def open_descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def states(heard: Heard) -> list[PortState]:
    return [told.state for told in heard.states]


@pytest.mark.slow
async def test_a_free_running_gauge_that_stops_is_silent_and_speaks_again(pty: PtyPort, heard: Heard) -> None:
    async with running(settings(str(pty.path)), free_running(0.05), heard) as instrument:
        await heard.until_state(PortState.HUNTING)
        pty.write(b"\r\n+000.190\r\n+00")
        await heard.until_readings(1)
        silent = await heard.until_state(PortState.SILENT, patience_s=NOTICE_S)
        assert silent.reason == (
            f"nothing came on {pty.path} for 0.15 s: switch the gauge on and check its cable"
        )
        assert silent.last == heard.readings[0]
        assert silent.since_ns - silent.last.time_ns >= 150_000_000
        # The cable was pulled within a frame and is put back within another.
        pty.write(b"1.234\r\n+000.200\r\n")
        await heard.until_readings(2)
        await heard.until(lambda: PortState.SILENT in states(heard)[:-1])
        assert heard.values == [190_000, 200_000]
        assert instrument.statistics().assembly.halves == 1
    passed = iter(states(heard))
    assert all(state in passed for state in (PortState.LIVE, PortState.SILENT, PortState.LIVE))


@pytest.mark.slow
async def test_garbage_is_no_sign_of_life_and_the_reason_says_so(pty: PtyPort, heard: Heard) -> None:
    async with running(settings(str(pty.path)), free_running(0.2), heard):
        await heard.until_state(PortState.HUNTING)
        pty.write(b"\r\n+00\xb0.190\r\n")
        silent = await heard.until_state(PortState.SILENT, patience_s=NOTICE_S)
    assert "12 bytes came" in silent.reason
    assert r"such as b'+00\xb0.190'" in silent.reason
    assert "check that profile line-mm suits the gauge" in silent.reason
    assert heard.readings == []


async def test_three_unanswered_requests_are_silence(memory: MemoryFarSide, heard: Heard) -> None:
    kind = requested(period_s=0.01, timeout_s=0.02)
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda _: "m") as instrument:
        silent = await heard.until_state(PortState.SILENT)
        assert instrument.statistics().unanswered == MISSES_TO_SILENCE
        assert "nothing came on m to 3 requests" in silent.reason
        assert await memory.asked(6) == b"?\r" * 3
        memory.send(b"+  0.190\r")
        await heard.until_state(PortState.LIVE)
        assert heard.values == [190_000]


@pytest.mark.slow
async def test_one_that_answers_again_in_time_is_not_silent(memory: MemoryFarSide, heard: Heard) -> None:
    kind = requested(period_s=0.01, timeout_s=0.25)
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda _: "m") as instrument:
        for number in (1, 2):
            # The first two of each three stay without an answer.
            await memory.asked(6)
            memory.send(b"+  0.00%d\r" % number)
            await heard.until_readings(number)
        assert instrument.statistics().unanswered == 4
    assert PortState.SILENT not in states(heard)


async def test_a_request_by_hand_gives_its_answer(memory: MemoryFarSide, heard: Heard) -> None:
    kind = requested(period_s=60, timeout_s=5)
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda _: "m") as instrument:
        await memory.asked(2)
        memory.send(b"+  0.001\r")
        await heard.until_readings(1)
        asking = asyncio.create_task(instrument.request())
        await memory.asked(2)
        memory.send(b"+  0.002\r")
        assert await asking == heard.readings[1]
        await memory.unplug()
        await heard.until_state(PortState.LOST, PortState.ABSENT)
        with pytest.raises(PortAbsentError, match="indicator-1"):
            await instrument.request()


async def test_only_a_requested_gauge_is_asked(memory: MemoryFarSide, heard: Heard) -> None:
    async with running(settings(), KEY, heard, opener=memory.opener, finder=lambda _: "m") as instrument:
        with pytest.raises(PortError, match="its profile is key-press"):
            await instrument.request()


async def test_a_gauge_that_cannot_be_written_to_is_lost(heard: Heard) -> None:
    def refuse(data: bytes) -> None:
        raise OSError("write timeout")

    async with running(
        settings(), requested(), heard, opener=lambda *_: MemoryPort(refuse), finder=lambda _: "m"
    ):
        lost = await heard.until_state(PortState.LOST)
    assert "m cannot be written to (write timeout)" in lost.reason


@pytest.mark.slow
async def test_plugged_in_again_under_another_number_it_goes_on(pty: PtyPort, heard: Heard) -> None:
    async with running(settings(str(pty.path)), free_running(), heard) as instrument:
        await heard.until_state(PortState.HUNTING)
        first_device = pty.device
        pty.write(b"\r\n+000.001\r\n+000.0")
        await heard.until_readings(1)
        pty.unplug()
        await heard.until_state(PortState.LOST, PortState.ABSENT, patience_s=NOTICE_S)
        pty.plug()
        assert pty.device != first_device
        await heard.until_state(PortState.HUNTING, patience_s=NOTICE_S)
        pty.write(b"02\r\n+000.003\r\n")
        await heard.until_readings(2)
        statistics = instrument.statistics()
    assert heard.values == [1_000, 3_000]
    assert heard.readings[1].seq > heard.readings[0].seq + 1
    assert (statistics.openings, statistics.assembly.halves) == (2, 1)
    assert statistics.failures >= 1


@pytest.mark.slow
async def test_by_its_identity_it_is_found_under_another_name(pty: PtyPort, heard: Heard) -> None:
    def finder(gauge: GaugeSettings) -> str:
        return find_port(gauge, lambda: [Listed(pty.device)] if pty.plugged else [])

    gauge = settings(usb={"vendor": 0x1234, "product": 1, "serial": "A7"})
    async with running(gauge, KEY, heard, finder=finder):
        first = await heard.until_state(PortState.LIVE)
        assert pty.device in first.reason
        pty.unplug()
        absent = await heard.until_state(PortState.ABSENT, patience_s=NOTICE_S)
        await heard.until(lambda: "no USB device with vendor 0x1234" in heard.states[-1].reason)
        assert heard.states[-1].since_ns == absent.since_ns
        pty.plug()
        again = await heard.until_state(PortState.LIVE, patience_s=NOTICE_S)
        assert pty.device in again.reason
        assert again.reason != first.reason
        pty.write(b"+042.270\r")
        await heard.until_readings(1)


@pytest.mark.slow
async def test_a_taken_port_is_said_and_had_once_it_is_free(pty: PtyPort, heard: Heard) -> None:
    other = Heard()
    clock = RealClock()
    async with PortReader(clock) as reader:
        first, second = (
            Instrument(settings(str(pty.path)), KEY, reader, clock, who.on_reading, who.on_state)
            for who in (other, heard)
        )
        async with at_work(first):
            await other.until_state(PortState.LIVE)
            second_task = asyncio.create_task(second.run())
            taken = await heard.until_state(PortState.ABSENT, patience_s=NOTICE_S)
            assert taken.reason == f"{pty.path} is in use by another program: close that program"
            pty.write(b"+042.270\r")
            await other.until_readings(1)
        await heard.until_state(PortState.LIVE, patience_s=NOTICE_S)
        second_task.cancel()
        await asyncio.wait({second_task})
    assert heard.readings == []


@pytest.mark.slow
async def test_trying_again_is_no_news(heard: Heard) -> None:
    enough = asyncio.Event()
    tries: list[str] = []
    loop = asyncio.get_running_loop()

    def opener(url: str, port_settings: PortSettings) -> OpenPort:
        tries.append(url)
        if len(tries) == 4:
            loop.call_soon_threadsafe(enough.set)
        raise PortAbsentError("not there")

    async with running(settings(), KEY, heard, opener=opener, finder=lambda _: "m") as instrument:
        await enough.wait()
        assert instrument.statistics().failures >= 3
    assert states(heard) == [PortState.OPENING, PortState.ABSENT]


@pytest.mark.slow
async def test_whatever_goes_wrong_leads_back_to_the_beginning(memory: MemoryFarSide, heard: Heard) -> None:
    troubles: list[Exception] = [RuntimeError("surprise"), KeyError("x"), PortError("no")]

    def opener(url: str, port_settings: PortSettings) -> OpenPort:
        if troubles:
            raise troubles.pop()
        return memory.opener(url, port_settings)

    async with running(settings(), KEY, heard, opener=opener, finder=lambda _: "m"):
        await heard.until_state(PortState.LIVE)
        memory.opened[0].come.put(ZeroDivisionError("in the port"))
        await heard.until_state(PortState.ABSENT)
        assert "ZeroDivisionError" in heard.states[-1].reason or "in the port" in heard.states[-1].reason
        assert memory.opened[0].closed.is_set()
        await heard.until_state(PortState.LIVE)
    assert any("RuntimeError('surprise')" in told.reason for told in heard.states)
    assert memory.opened[1].closed.is_set()


@pytest.mark.slow
async def test_a_listener_that_fails_does_not_stop_the_reading(memory: MemoryFarSide) -> None:
    heard = Heard()
    failed: list[Reading] = []

    def on_reading(reading: Reading) -> None:
        if not failed:
            failed.append(reading)
            raise RuntimeError("full")
        heard.on_reading(reading)

    def on_state(state: GaugeState) -> None:
        heard.on_state(state)
        raise RuntimeError("nobody listens")

    clock = RealClock()
    async with PortReader(clock) as reader:
        instrument = Instrument(
            settings(), KEY, reader, clock, on_reading, on_state, opener=memory.opener, finder=lambda _: "m"
        )
        async with at_work(instrument):
            await heard.until_state(PortState.LIVE)
            memory.send(b"+042.270\r")
            await heard.until(lambda: any("could not be handled" in told.reason for told in heard.states))
            await heard.until_state(PortState.LIVE)
            memory.send(b"+042.080\r")
            await heard.until_readings(1)
    assert heard.values == [42_080_000]
    assert heard.readings[0].seq == 1


async def test_cancelled_while_opening_it_leaves_no_port_open(memory: MemoryFarSide, heard: Heard) -> None:
    opening, go_on, opened = threading.Event(), threading.Event(), threading.Event()

    def opener(url: str, port_settings: PortSettings) -> OpenPort:
        opening.set()
        go_on.wait()
        port = memory.opener(url, port_settings)
        opened.set()
        return port

    async with running(settings(), KEY, heard, opener=opener, finder=lambda _: "m"):
        await heard.until_state(PortState.OPENING)
        await asyncio.to_thread(opening.wait)
    go_on.set()
    assert await asyncio.to_thread(opened.wait, NOTICE_S)
    assert await asyncio.to_thread(memory.opened[0].closed.wait, NOTICE_S)


async def test_one_that_hangs_in_opening_does_not_hold_up_the_others(
    memory: MemoryFarSide, heard: Heard
) -> None:
    go_on = threading.Event()

    def hang(url: str, port_settings: PortSettings) -> OpenPort:
        go_on.wait()
        raise PortAbsentError("given up")

    try:
        async with PortReader(RealClock()) as reader, asyncio.TaskGroup() as group:
            tasks = [
                group.create_task(remembered(reader, heard, opener).run())
                for opener in [hang] * 10 + [memory.opener]
            ]
            await heard.until(lambda: PortState.LIVE in states(heard), patience_s=NOTICE_S)
            for task in tasks:
                task.cancel()
    finally:
        go_on.set()


async def test_what_a_busy_loop_leaves_lying_is_a_hole_in_the_numbers(
    memory: MemoryFarSide, heard: Heard
) -> None:
    async with PortReader(RealClock(), queue_bytes=30) as reader:
        instrument = remembered(reader, heard, memory.opener)
        async with at_work(instrument):
            await heard.until_state(PortState.LIVE)
            for number in range(5):
                memory.send(b"+000.00%d\r" % number)
            wait_until(lambda: instrument.statistics().queue.bytes_lost == 18)
            await heard.until_readings(3)
            memory.send(b"+000.005\r+000.006\r")
            await heard.until_readings(4)
            statistics = instrument.statistics()
    assert heard.values == [0, 1_000, 2_000, 6_000]
    assert heard.readings[3].seq > 3
    assert statistics.assembly.bytes_lost == statistics.queue.bytes_lost == 18
    assert statistics.queue.peak_fill == 27


@pytest.mark.slow
async def test_pulling_it_out_again_and_again_leaves_nothing_open(pty: PtyPort, heard: Heard) -> None:
    async with running(settings(str(pty.path)), KEY, heard):
        counts = []
        for number in range(4):
            await heard.until_state(PortState.LIVE, patience_s=NOTICE_S)
            pty.write(b"+042.270\r")
            await heard.until_readings(number + 1)
            counts.append(open_descriptors())
            pty.unplug()
            await heard.until_state(PortState.ABSENT, patience_s=NOTICE_S)
            pty.plug()
    assert len(set(counts)) == 1


async def test_the_snapshot_before_anything_happened() -> None:
    async with PortReader(RealClock()) as reader:
        heard = Heard()
        instrument = Instrument(settings(), KEY, reader, RealClock(), heard.on_reading, heard.on_state)
        assert instrument.state.state is PortState.ABSENT
        assert instrument.state.last is None
        statistics = instrument.statistics()
        assert (statistics.openings, statistics.failures, statistics.assembly.frames) == (0, 0, 0)
        with pytest.raises(AttributeError):
            statistics.openings = 1  # type: ignore[misc]


def test_a_gauge_plugged_in_again_is_looked_for_often_enough() -> None:
    # Within two seconds, with a second left for opening.
    assert LONGEST_PAUSE_S * (1 + PAUSE_SPREAD) <= NOTICE_S / 2
