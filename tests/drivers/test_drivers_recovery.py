from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.clock import RealClock
from config.profile import PortSettings
from config.settings import GaugeSettings
from drivers.errors import PortAbsentError, PortError
from drivers.finding import find_port
from drivers.instrument import LONGEST_PAUSE_S, PAUSE_SPREAD, Instrument
from drivers.reader import PortReader
from drivers.reading import Reading
from drivers.state import GaugeState, PortState
from drivers.transports import OpenPort
from simulators.port import PtyPort
from tests.drivers.support import (
    Heard,
    MemoryFarSide,
    at_work,
    free_running,
    profile,
    running,
    settings,
    wait_until,
)
from tests.drivers.test_drivers_finding import Listed

NOTICE_S = 2.0
KEY = profile("line-key-mm")


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
        finder=lambda *_: "m",
    )


def open_descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


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
    def finder(gauge: GaugeSettings, port: PortSettings) -> str:
        return find_port(gauge, port, lambda _: [Listed(pty.device)] if pty.plugged else [])

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

    async with running(settings(), KEY, heard, opener=opener, finder=lambda *_: "m") as instrument:
        await enough.wait()
        assert instrument.statistics().failures >= 3
    assert heard.passed == [PortState.OPENING, PortState.ABSENT]


@pytest.mark.slow
async def test_whatever_goes_wrong_leads_back_to_the_beginning(memory: MemoryFarSide, heard: Heard) -> None:
    troubles: list[Exception] = [RuntimeError("surprise"), KeyError("x"), PortError("no")]

    def opener(url: str, port_settings: PortSettings) -> OpenPort:
        if troubles:
            raise troubles.pop()
        return memory.opener(url, port_settings)

    async with running(settings(), KEY, heard, opener=opener, finder=lambda *_: "m"):
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
            settings(), KEY, reader, clock, on_reading, on_state, opener=memory.opener, finder=lambda *_: "m"
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

    async with running(settings(), KEY, heard, opener=opener, finder=lambda *_: "m"):
        await heard.until_state(PortState.OPENING)
        await asyncio.to_thread(opening.wait)
    go_on.set()
    assert await asyncio.to_thread(opened.wait, NOTICE_S)
    assert await asyncio.to_thread(memory.opened[0].closed.wait, NOTICE_S)


async def test_stopped_and_run_again_it_begins_anew(memory: MemoryFarSide, heard: Heard) -> None:
    async with PortReader(RealClock()) as reader:
        instrument = remembered(reader, heard, memory.opener)
        for number in (1, 2):
            async with at_work(instrument):
                # A default binds the loop variable.
                await heard.until(lambda number=number: len(memory.opened) == number)  # type: ignore[misc]
                await heard.until(lambda: instrument.state.state is PortState.LIVE)
                memory.send(b"+042.270\r")
                await heard.until_readings(number)
    assert [reading.seq for reading in heard.readings] == [0, 1]
    assert heard.passed.count(PortState.OPENING) == 2


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
            await heard.until(lambda: PortState.LIVE in heard.passed, patience_s=NOTICE_S)
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


async def test_pauses_grow_to_their_limit_and_a_good_reading_begins_anew(
    memory: MemoryFarSide, heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    pauses: list[float] = []
    real_sleep = asyncio.sleep

    async def noted_sleep(delay: float) -> None:
        pauses.append(delay)
        if len(pauses) == 8:
            await memory.plug()
        await real_sleep(0)

    memory.plugged = False
    monkeypatch.setattr(asyncio, "sleep", noted_sleep)
    async with running(settings(), KEY, heard, opener=memory.opener, finder=lambda *_: "m"):
        await heard.until_state(PortState.LIVE)
        failures = len(pauses)
        memory.opened[0].come.put(OSError("opened, but nothing read"))
        await heard.until(lambda: heard.passed.count(PortState.LIVE) == 2)
        memory.send(b"+042.270\r")
        await heard.until_readings(1)
        memory.opened[1].come.put(OSError("after a reading"))
        await heard.until(lambda: heard.passed.count(PortState.LIVE) == 3)
    assert pauses[0] < pauses[1] < pauses[2] < LONGEST_PAUSE_S <= pauses[failures]
    assert max(pauses) <= LONGEST_PAUSE_S * (1 + PAUSE_SPREAD)
    assert pauses[failures + 1] < pauses[1]


def test_a_gauge_plugged_in_again_is_looked_for_often_enough() -> None:
    # Within two seconds, with half a second left for opening; and no oftener than once a second.
    assert LONGEST_PAUSE_S >= 1.0
    assert LONGEST_PAUSE_S * (1 + PAUSE_SPREAD) <= NOTICE_S - 0.5
