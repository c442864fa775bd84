"""A sweep that ends by itself holds a full turn of readings that have an angle."""

from __future__ import annotations

import random

import pytest

from acquire.angle.covered import KNOWN_KEPT, MARK_REACH_NS, WAITING_KEPT, Covered
from acquire.angle.encoder import FULL_UDEG
from acquire.angle.source import TURN_UDEG
from acquire.angle.tagger import tag_sweep
from acquire.journal.events import AngleStated, Event, GaugeAway, GaugeBack, Mark, Resumed, Sample, SweepBegun
from acquire.runs.sweep import RunningSweep
from contract.gauge import GaugeFacts
from contract.units import Unit

MS = 1_000_000
DEG = 1_000_000
GAUGE = GaugeFacts(id="indicator-1", resolution_mm=0.001, mpe_mm=0.004)
ENCODER = AngleStated(source="encoder", gauge="encoder-1", step=1000)
MARKS = AngleStated(source="marks", mark_u_udeg=2 * DEG)
# One degree in 50 ms.
MS_PER_DEG = 50


class Hand:
    """Turns a crank evenly under a running sweep, and keeps the journal's events."""

    def __init__(self, angle: AngleStated) -> None:
        self.begun = SweepBegun(inspection="i", time_ns=0, check="rim", gauge=GAUGE, angle=angle)
        self.sweep = RunningSweep(self.begun)
        self.events: list[Event] = [self.begun]
        self.numbers = {"indicator-1": 0, "encoder-1": 0}

    def hear(self, event: Event) -> None:
        if self.sweep.end is None:
            self.events.append(event)
            self.sweep.hear(event)

    def read(self, gauge: str, time_ms: float, late_ms: float = 0.0) -> None:
        """One reading; late_ms: by how much its time lies before its arrival."""
        taken_ms = time_ms - late_ms
        self.numbers[gauge] += 1
        is_encoder = gauge == "encoder-1"
        value = round(taken_ms / MS_PER_DEG * DEG) % TURN_UDEG if is_encoder else round(taken_ms)
        self.hear(
            Sample(
                inspection="i", time_ns=round(taken_ms * MS), gauge=gauge, reading=self.numbers[gauge],
                value=value, unit=Unit.UDEG if is_encoder else Unit.NM,
            )
        )  # fmt: skip

    def tagged_deg(self) -> float:
        """What the final tags say is covered."""
        angle = tag_sweep(self.events).angle_deg
        return float(angle.max() - angle.min())


def test_an_encoder_that_comes_late_does_not_count_for_what_it_did_not_see() -> None:
    hand = Hand(ENCODER)
    hand.read("encoder-1", 0)
    hand.hear(GaugeAway(inspection="i", time_ns=1, gauge="encoder-1", reason="unplugged"))
    for ms in range(0, 600 * MS_PER_DEG, 25):
        hand.read("indicator-1", ms)
        if ms == 20 * MS_PER_DEG:
            hand.hear(GaugeBack(inspection="i", time_ns=ms * MS, gauge="encoder-1"))
        if ms >= 20 * MS_PER_DEG:
            hand.read("encoder-1", ms)
    assert hand.sweep.end == "complete"
    assert hand.tagged_deg() >= 365


def test_a_gauge_away_in_the_overlap_is_waited_for() -> None:
    hand = Hand(ENCODER)
    for ms in range(0, 600 * MS_PER_DEG, 500):
        hand.read("encoder-1", ms)
        if not 350 * MS_PER_DEG < ms < 368 * MS_PER_DEG:
            hand.read("indicator-1", ms + 10)
    assert hand.sweep.end == "complete"
    assert hand.tagged_deg() >= 365


def test_a_slow_gauge_between_marks_is_barred_on_until_the_turn_is_read() -> None:
    """A reading a second meets no mark by a fifth of a second: 360 degrees of marks are not of readings."""
    hand = Hand(MARKS)
    for ms in range(0, 600 * MS_PER_DEG, 100):
        if ms % (120 * MS_PER_DEG) == 0:
            hand.hear(Mark(inspection="i", time_ns=ms * MS, angle_udeg=ms // MS_PER_DEG * DEG))
        if ms % 1_000 == 500:
            hand.read("indicator-1", ms)
    assert hand.sweep.end == "complete"
    assert hand.tagged_deg() >= 360
    assert hand.sweep.figures().covered_udeg <= round(hand.tagged_deg() * DEG) + 1


def test_a_gauge_that_comes_late_between_marks() -> None:
    hand = Hand(MARKS)
    for ms in range(0, 900 * MS_PER_DEG, 50):
        if ms % (120 * MS_PER_DEG) == 0:
            hand.hear(Mark(inspection="i", time_ns=ms * MS, angle_udeg=ms // MS_PER_DEG * DEG))
        if ms > 110 * MS_PER_DEG:
            hand.read("indicator-1", ms + 1)
    assert hand.sweep.end == "complete"
    assert hand.tagged_deg() >= 360


@pytest.mark.parametrize("seed", range(40))
def test_whatever_goes_and_comes_late_it_ends_on_what_the_final_tags_hold(seed: int) -> None:
    rng = random.Random(seed)
    hand = Hand(ENCODER)
    gauge_late, encoder_late = rng.choice([0, 5, 80]), rng.choice([0, 5, 80])
    gauge_ms, encoder_ms = rng.choice([20, 100, 700]), rng.choice([20, 100])
    gauge_from, encoder_from = rng.choice([0, 3_000]), rng.choice([0, 2_000])
    away_ms, restart_ms = rng.randrange(30_000), rng.randrange(60_000)
    for ms in range(100, 1_000 * MS_PER_DEG, 10):
        if ms == away_ms // 10 * 10:
            hand.hear(GaugeAway(inspection="i", time_ns=ms * MS, gauge="encoder-1", reason="unplugged"))
        if ms == restart_ms // 10 * 10:
            hand.hear(Resumed(inspection="i", time_ns=ms * MS, utc="2026-03-02T06:00:00.000Z"))
            hand.numbers = dict.fromkeys(hand.numbers, 0)
        if ms % encoder_ms == 0 and ms >= encoder_from and not away_ms < ms < away_ms + 4_000:
            hand.read("encoder-1", ms, encoder_late)
        if ms % gauge_ms == 0 and ms >= gauge_from:
            hand.read("indicator-1", ms, gauge_late)
    assert hand.sweep.end == "complete"
    covered = hand.sweep.figures().covered_udeg
    assert FULL_UDEG <= covered <= hand.tagged_deg() * DEG + 2
    # Nor does it go on much longer than it must: the crank has turned little more than what is tagged.
    angle = tag_sweep(hand.events).angle_deg
    before = tag_sweep(hand.events[:-40]).angle_deg
    assert before.max() - before.min() < 365 or angle.size < 45


def test_what_waits_and_what_is_known_stay_bounded() -> None:
    covered = Covered(MARK_REACH_NS)
    covered.take_known(0, 0)
    for n in range(3 * WAITING_KEPT):
        covered.take_reading(10**9 + n)
    covered.take_known(2 * 10**9, 100 * DEG)
    assert (covered.low, covered.high) == (
        50 * DEG,
        50 * DEG + round((3 * WAITING_KEPT - 1) / 10**9 * 50 * DEG),
    )
    for n in range(3 * KNOWN_KEPT):
        covered.take_known(3 * 10**9 + n, 100 * DEG)
    covered.take_reading(0)  # older than all that is known still: it says nothing
    assert covered.low == 50 * DEG
