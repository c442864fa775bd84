from __future__ import annotations

import asyncio
import time

import pytest

from simulators.loop import StandstillError, VirtualLoop
from tests.acquire.hand_clock import HandClock


def test_an_hour_passes_at_once_and_timers_come_in_their_order() -> None:
    clock, heard = HandClock(), list[tuple[str, int]]()
    loop = VirtualLoop(clock)

    async def say(name: str, after_s: float) -> None:
        await asyncio.sleep(after_s)
        heard.append((name, clock.now_ns))

    async def story() -> None:
        await asyncio.gather(say("late", 3600.0), say("first", 0.1), say("second", 0.1 + 1e-9))

    began_s = time.monotonic()
    try:
        loop.run_until_complete(story())
    finally:
        loop.close()
    assert time.monotonic() - began_s < 10
    assert heard == [("first", 100_000_000), ("second", 100_000_001), ("late", 3_600_000_000_000)]


def test_tasks_that_only_wait_for_each_other_are_an_error_and_not_a_hang() -> None:
    loop = VirtualLoop(HandClock())
    never = loop.create_future()
    try:
        with pytest.raises(StandstillError):
            loop.run_until_complete(never)
    finally:
        loop.close()


def test_it_waits_until_a_time_of_the_clock_to_the_nanosecond() -> None:
    clock = HandClock(now_ns=7)
    loop = VirtualLoop(clock)
    try:
        loop.run_until_complete(loop.until(86_400_123_456_789))
    finally:
        loop.close()
    assert clock.now_ns == 86_400_123_456_789


def test_who_waits_on_as_long_as_time_is_left_does_not_do_so_for_ever() -> None:
    clock = HandClock(now_ns=16_200_000_000)
    loop = VirtualLoop(clock)

    async def wait_on() -> int:
        turns = 0
        while (left_ns := 16_200_635_301 - clock.now_ns) > 0:
            turns += 1
            await asyncio.wait({never}, timeout=left_ns / 1e9 * 0.5)
        return turns

    never = loop.create_future()
    try:
        assert loop.run_until_complete(wait_on()) < 40
    finally:
        loop.close()
