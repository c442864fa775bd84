"""A gauge whose key changes a modem line: nothing is a reading but what is meant."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest

from config.profile import GaugeProfile, LineKey, PortSettings
from drivers.state import PortState
from drivers.transports import OpenPort
from tests.drivers.support import Heard, MemoryPort, profile, running, settings

pytestmark = pytest.mark.slow
# Longer than a key must have been released before another press counts.
RELEASED_S = 0.06


class KeyPort(MemoryPort):
    """With CTS as the key has it."""

    cts = False

    async def press(self) -> None:
        await asyncio.sleep(RELEASED_S)
        self.cts = True

    async def release(self) -> None:
        self.cts = False
        await asyncio.sleep(RELEASED_S)


def keyed(timeout_s: float = 5.0, request: str | None = None) -> GaugeProfile:
    manner = LineKey(kind="modem-line", line="cts", request=request, timeout_s=timeout_s)
    return profile("line-mm").model_copy(update={"manner": manner})


def opening(port: OpenPort) -> Callable[[str, PortSettings], OpenPort]:
    return lambda *_: port


async def test_of_a_gauge_that_sends_all_the_time_the_frame_after_each_press_is_the_reading(
    heard: Heard,
) -> None:
    port = KeyPort()

    async def sends() -> None:
        for n in range(10_000):
            port.come.put(b"+%07.3f\r\n" % (n / 1_000))
            await asyncio.sleep(0.01)

    async with running(settings(), keyed(), heard, opener=opening(port), finder=lambda *_: "m"):
        sending = asyncio.create_task(sends())
        await heard.until_state(PortState.LIVE)
        assert heard.readings == []
        for pressed in range(1, 4):
            await port.press()
            await heard.until_readings(pressed)
            await port.release()
        sending.cancel()
        await asyncio.wait({sending})
    assert len(heard.readings) == 3
    assert heard.values == sorted(set(heard.values))
    assert [reading.seq for reading in heard.readings] == [1, 2, 3]


async def test_one_that_is_asked_is_asked_once_at_each_press(heard: Heard) -> None:
    asked: list[bytes] = []

    def answer(data: bytes) -> None:
        asked.append(data)
        port.come.put(b"+000.190\r\n")

    port = KeyPort(answer)
    kind = keyed(request="read\r")
    async with running(settings(), kind, heard, opener=opening(port), finder=lambda *_: "m"):
        await heard.until_state(PortState.LIVE)
        assert asked == []
        for pressed in (1, 2):
            await port.press()
            await heard.until_readings(pressed)
            await port.release()
    assert asked == [b"read\r"] * 2
    assert heard.values == [190_000] * 2


@pytest.mark.parametrize("request_text", [None, "read\r"])
async def test_a_press_without_a_reading_is_told_and_the_next_may_have_one(
    request_text: str | None, heard: Heard
) -> None:
    port = KeyPort()
    kind = keyed(0.05, request_text)
    async with running(settings(), kind, heard, opener=opening(port), finder=lambda *_: "m") as gauge:
        await heard.until_state(PortState.LIVE)
        await port.press()
        silent = await heard.until_state(PortState.SILENT)
        assert silent.reason.startswith("nothing came on m for 0.05 s after its key was pressed")
        await port.release()
        kind_answers = request_text is not None
        port._on_write = lambda _: port.come.put(b"+000.190\r\n") if kind_answers else None
        await port.press()
        if not kind_answers:
            for _ in range(30):
                port.come.put(b"+000.190\r\n")
                await asyncio.sleep(0.005)
        await heard.until_state(PortState.LIVE)
        assert gauge.statistics().assembly.rejected == 0
    assert set(heard.values) == {190_000}


async def test_a_port_without_lines_is_told(heard: Heard) -> None:
    port = MemoryPort()
    async with running(settings(), keyed(), heard, opener=opening(port), finder=lambda *_: "m"):
        lost = await heard.until_state(PortState.LOST, PortState.ABSENT)
        assert "it has no modem lines" in lost.reason
