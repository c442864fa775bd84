"""The crank waits for a bay that is behind, and what it does is the same as without."""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import Callable
from pathlib import Path

import pytest

from config.bay import read_bay
from ringtrue.demo_folder import INDICATOR, DemoFolder
from ringtrue.practice.lines import WAITS_MAX_S
from ringtrue.practice.practising import Practice, Task
from simulators.barring import BarringHand
from simulators.loop import VirtualLoop
from simulators.timeline import Timeline
from tests.acquire.hand_clock import HandClock

Sent = list[tuple[int, str, bytes]]


@pytest.fixture
def turned(tmp_path: Path) -> Callable[[Callable[[int], bool]], Sent]:
    """All that is sent during a stroke, with its times, to a bay that takes what is there when it may."""
    kept = DemoFolder(tmp_path, "practice", has_micrometer=True)
    kept.prepare()
    files = read_bay(kept.config, {})

    def turn(may_take: Callable[[int], bool]) -> Sent:
        clock = HandClock()
        loop = VirtualLoop(clock)
        sent: Sent = []
        timeline = Timeline(1.0, clock.monotonic_ns, late_most_s=0.002)
        practice = Practice(
            Task(1, "none"),
            files,
            None,  # type: ignore[arg-type]  # nothing is asked of it
            lambda gauge, data: sent.append((clock.now_ns, gauge, data)),
            timeline,
            lambda _: may_take(clock.now_ns),
        )
        lines = practice.lines
        path = BarringHand(back_share=0.0).bar(lines.rng("hand"), start_deg=-2.0, turn_deg=40.0, start_ns=1)
        loop.run_until_complete(asyncio.wait_for(lines.turn(path), 60))
        loop.close()
        return sent

    return turn


def test_the_crank_waits_while_nothing_is_taken_off_a_line(
    turned: Callable[[Callable[[int], bool]], Sent],
) -> None:
    begins, ends = 500_000_000, 1_500_000_000
    prompt, late = turned(lambda _: True), turned(lambda now: not begins <= now < ends)
    assert [frame[1:] for frame in late] == [frame[1:] for frame in prompt]
    assert not [now for now, _, _ in late if begins <= now < ends]
    held = [now for now, gauge, _ in late if gauge == INDICATOR]
    # What stands still for a second goes on at its own pace: no two frames come at once.
    apart = [after - before for before, after in itertools.pairwise(held) if after > ends]
    usual = [now for now, gauge, _ in prompt if gauge == INDICATOR]
    least = min(after - before for before, after in itertools.pairwise(usual))
    assert min(apart) >= least - 2_000_000


def test_it_does_not_wait_for_ever(turned: Callable[[Callable[[int], bool]], Sent]) -> None:
    began = 1_900_000_000
    sent = turned(lambda now: now < began)
    gap = max(after - before for (before, *_), (after, *_) in itertools.pairwise(sent))
    assert gap >= WAITS_MAX_S * 1e9 * 0.99
