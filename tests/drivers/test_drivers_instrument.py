from __future__ import annotations

import asyncio

import pytest
from structlog.testing import capture_logs

from acquire.clock import RealClock
from drivers.errors import PortAbsentError, PortError
from drivers.instrument import Instrument
from drivers.manners import MISSES_TO_SILENCE
from drivers.reader import PortReader
from drivers.state import PortState
from simulators.port import PtyPort
from tests.drivers.support import (
    Heard,
    MemoryFarSide,
    MemoryPort,
    free_running,
    profile,
    requested,
    running,
    settings,
)

NOTICE_S = 2.0
KEY = profile("line-key-mm")


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
        await heard.until(lambda: PortState.SILENT in heard.passed[:-1])
        assert heard.values == [190_000, 200_000]
        assert instrument.statistics().assembly.halves == 1
    passed = iter(heard.passed)
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
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda *_: "m") as instrument:
        silent = await heard.until_state(PortState.SILENT)
        assert instrument.statistics().unanswered == MISSES_TO_SILENCE
        assert "nothing came on m to 3 requests" in silent.reason
        assert await memory.asked(15) == b"read\r" * 3
        memory.send(b"+  0.190\r")
        await heard.until_state(PortState.LIVE)
        assert heard.values == [190_000]


@pytest.mark.slow
async def test_one_that_answers_again_in_time_is_not_silent(memory: MemoryFarSide, heard: Heard) -> None:
    kind = requested(period_s=0.01, timeout_s=0.25)
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda *_: "m") as instrument:
        for number in (1, 2):
            # The first two of each three stay without an answer.
            await memory.asked(15)
            memory.send(b"+  0.00%d\r" % number)
            await heard.until_readings(number)
        assert instrument.statistics().unanswered == 4
    assert PortState.SILENT not in heard.passed


async def test_half_an_answer_is_not_glued_to_the_next(memory: MemoryFarSide, heard: Heard) -> None:
    kind = requested(period_s=0.01, timeout_s=0.1)
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda *_: "m") as instrument:
        await memory.asked(5)
        memory.send(b"+  0.1")
        await memory.asked(5)
        memory.send(b"+  0.190\r")
        await heard.until_readings(1)
        assert heard.values == [190_000]
        assert instrument.statistics().assembly.halves == 1


async def test_a_request_by_hand_gives_its_answer(memory: MemoryFarSide, heard: Heard) -> None:
    kind = requested(period_s=60, timeout_s=5)
    async with running(settings(), kind, heard, opener=memory.opener, finder=lambda *_: "m") as instrument:
        await memory.asked(5)
        memory.send(b"+  0.001\r")
        await heard.until_readings(1)
        asking = asyncio.create_task(instrument.request())
        await memory.asked(5)
        memory.send(b"+  0.002\r")
        assert await asking == heard.readings[1]
        await memory.unplug()
        await heard.until_state(PortState.LOST, PortState.ABSENT)
        with pytest.raises(PortAbsentError, match="indicator-1"):
            await instrument.request()


async def test_only_a_requested_gauge_is_asked(memory: MemoryFarSide, heard: Heard) -> None:
    async with running(settings(), KEY, heard, opener=memory.opener, finder=lambda *_: "m") as instrument:
        with pytest.raises(PortError, match="its profile is key-press"):
            await instrument.request()


async def test_a_gauge_that_cannot_be_written_to_is_lost(heard: Heard) -> None:
    def refuse(data: bytes) -> None:
        raise OSError("write timeout")

    async with running(
        settings(), requested(), heard, opener=lambda *_: MemoryPort(refuse), finder=lambda *_: "m"
    ):
        lost = await heard.until_state(PortState.LOST)
    assert "m cannot be written to (write timeout)" in lost.reason


async def test_a_gauge_that_is_lost_is_a_warning_in_the_log(heard: Heard) -> None:
    def refuse(data: bytes) -> None:
        raise OSError("write timeout")

    with capture_logs() as log:
        async with running(
            settings(), requested(), heard, opener=lambda *_: MemoryPort(refuse), finder=lambda *_: "m"
        ):
            await heard.until_state(PortState.LOST)
    said = [(entry["state"], entry["log_level"]) for entry in log if entry["event"] == "gauge state"]
    # Found, opened, lost: in the words that the gauge's topic has too.
    assert said[:3] == [("absent", "info"), ("silent", "info"), ("absent", "warning")]


async def test_the_snapshot_before_anything_happened() -> None:
    async with PortReader(RealClock()) as reader:
        heard = Heard()
        instrument = Instrument(settings(), KEY, reader, RealClock(), heard.on_reading, heard.on_state)
        assert instrument.state.state is PortState.ABSENT
        assert instrument.state.last is None
        statistics = instrument.statistics()
        assert (statistics.openings, statistics.failures, statistics.assembly.frames) == (0, 0, 0)
        with pytest.raises(AttributeError):
            statistics.openings = 1  # type: ignore[misc]  # that it cannot be set is what is tested


async def test_two_channels_that_a_server_sends_to_whoever_listens_are_two_gauges(heard: Heard) -> None:
    other, both = Heard(), asyncio.Event()
    writers: list[asyncio.StreamWriter] = []

    async def accept(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writers.append(writer)
        if len(writers) == 2:
            both.set()
        await reader.read()

    async with await asyncio.start_server(accept, "127.0.0.1", 0) as server:
        url = f"socket://127.0.0.1:{server.sockets[0].getsockname()[1]}"
        first, second = (free_running(name=f"channels-{name}-mm") for name in ("first", "second"))
        async with running(settings(url), first, heard), running(settings(url), second, other):
            await heard.until_state(PortState.HUNTING)
            await other.until_state(PortState.HUNTING)
            await both.wait()
            for writer in writers:
                writer.write(b"\r\nA+000.190 B+042.270\r\nA-000.080 B+042.080\r\n")
            await heard.until_readings(2)
            await other.until_readings(2)
        for writer in writers:
            writer.close()
    assert (heard.values, other.values) == ([190_000, -80_000], [42_270_000, 42_080_000])
