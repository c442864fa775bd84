from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.angle.tracker import Backing
from acquire.journal.events import AngleStated, GaugeAway, GaugeBack, Mark, Place, Resumed, SweepBegun
from acquire.runs import sweep as sweep_module
from acquire.runs.sweep import RunningSweep
from contract.gauge import GaugeFacts
from contract.units import Unit
from drivers.reading import Reading

MS = 1_000_000
DEG = 1_000_000
GAUGE = GaugeFacts(id="indicator-1", resolution_mm=0.001, mpe_mm=0.004)
ENCODER = AngleStated(source="encoder", gauge="encoder-1", step=1000)
PLACES = tuple(Place(station_udeg=s * 90 * DEG, radius=r) for s in range(4) for r in ("outer", "inner"))


def running(angle: AngleStated = ENCODER, **changes: object) -> RunningSweep:
    begun = SweepBegun(inspection="i", time_ns=0, check="rim", gauge=GAUGE, angle=angle)
    return RunningSweep(replace(begun, **changes))  # type: ignore[arg-type]  # put together at run time


class Hand:
    """Turns a crank under a running sweep."""

    def __init__(self, sweep: RunningSweep) -> None:
        self.sweep = sweep
        self.n = 0

    def to(self, deg: float, value: int = 0) -> None:
        time = self.n * 20 * MS
        self.sweep.take(Reading("encoder-1", self.n, time, round(deg * DEG) % (360 * DEG), Unit.UDEG))
        self.sweep.take(Reading("indicator-1", self.n, time + MS, value, Unit.NM))
        self.n += 1


@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize("start", [0, 359, 123])
def test_it_ends_by_itself_after_a_turn_and_five_degrees_either_way(sense: int, start: int) -> None:
    hand = Hand(running())
    turned = 0
    while hand.sweep.end is None:
        hand.to(start + sense * turned)
        turned += 1
    assert hand.sweep.end == "complete"
    figures = hand.sweep.figures()
    assert turned - 1 == 366  # the reading after 365 has an angle once the encoder is read again
    assert figures.covered_udeg == 365 * DEG
    assert figures.turn == 1
    assert figures.largest_gap_deg == 0
    assert figures.angle_udeg is not None
    assert (figures.angle_udeg - (start + sense * 366) * DEG) % (360 * DEG) == 0


def test_figures_follow_the_values() -> None:
    hand = Hand(running())
    assert hand.sweep.figures().min_nm is None
    for deg, value in ((0, 500), (10, -200), (20, 900), (30, 100)):
        hand.to(deg, value)
    figures = hand.sweep.figures()
    assert (figures.min_nm, figures.max_nm, figures.value_nm, figures.readings) == (-200, 900, 100, 4)
    assert figures.covered_udeg == 20 * DEG  # the reading after the encoder's last has no angle yet
    assert figures.largest_gap_deg == 329
    assert figures.closure_nm is None
    # The last known position is 1 ms old, at 10 degrees in 20 ms.
    assert figures.angle_u_deg == pytest.approx((0.001**2 / 12 + 0.5**2) ** 0.5)


def test_closure_compares_the_second_pass_with_the_first_not_a_hand_that_goes_back() -> None:
    hand = Hand(running())
    for deg in [*range(20), *range(20, 10, -1)]:
        hand.to(deg, 100)
    assert hand.sweep.figures().closure_nm is None
    for deg in range(10, 365):
        hand.to(deg, 100 if deg < 360 else 103)
    assert hand.sweep.figures().closure_nm == 3


def test_barring_back_is_counted_in_degrees_and_times() -> None:
    hand = Hand(running())
    for deg in [*range(100), *range(100, 70, -1), *range(70, 200), *range(200, 190, -1), *range(190, 240)]:
        hand.to(deg)
    figures = hand.sweep.figures()
    assert figures.back_times == 2
    assert figures.back_udeg == (30 + 10) * DEG


@given(st.lists(st.integers(1, 40), min_size=1, max_size=20), st.integers(-1, 1))
def test_backing_is_the_sum_of_all_ways_back(legs: list[int], flicker: int) -> None:
    """Legs of two degrees and more, forward and back in turn; a flicker below a degree counts as nothing."""
    backing = Backing()
    position = 0
    backing.take(0)
    for number, leg in enumerate(legs):
        for _ in range(leg + 1):
            position += DEG if number % 2 == 0 else -DEG
            backing.take(position + flicker * DEG // 3)
            backing.take(position)
    back = [leg + 1 for leg in legs[1::2]]
    assert backing.times == len(back)
    assert backing.back == pytest.approx(sum(back) * DEG, abs=DEG * len(back))
    if flicker == 0:
        assert backing.back == sum(back) * DEG


def test_holes_in_the_numbering_are_losses_and_what_was_heard_is_not_heard_again() -> None:
    sweep = running()
    for number in (4, 5, 5, 4, 9):
        sweep.take(Reading("indicator-1", number, MS, 0, Unit.NM))
    assert (sweep.readings, sweep.intake.lost) == (3, 3)
    assert not sweep.take(Reading("indicator-2", 0, MS, 0, Unit.NM))
    assert not sweep.take(Reading("indicator-1", 10, -MS, 0, Unit.NM))


def test_a_sweep_that_is_forgotten_ends_at_its_cap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sweep_module, "READINGS_MAX", 50)
    hand = Hand(running())
    while hand.sweep.end is None:
        hand.to(7)
    assert hand.sweep.end == "full"
    assert hand.sweep.intake.kept == 50


def test_a_gauge_that_is_away_shows_no_value_and_an_encoder_no_angle() -> None:
    hand = Hand(running())
    hand.to(10, 500)
    for gauge in ("indicator-1", "encoder-1"):
        hand.sweep.hear(GaugeAway(inspection="i", time_ns=MS, gauge=gauge, reason="unplugged"))
    figures = hand.sweep.figures()
    assert (figures.value_nm, figures.angle_udeg) == (None, None)
    hand.sweep.hear(GaugeBack(inspection="i", time_ns=MS, gauge="indicator-1"))
    assert hand.sweep.figures().value_nm == 500


def test_after_a_boot_time_and_numbers_begin_anew() -> None:
    sweep = running(time_ns=10**15)
    sweep.take(Reading("indicator-1", 500, 10**15, 1, Unit.NM))
    sweep.hear(Resumed(inspection="i", time_ns=100, utc="2026-03-02T06:00:00.000Z"))
    assert sweep.take(Reading("indicator-1", 0, 200, 2, Unit.NM))
    assert (sweep.readings, sweep.intake.lost) == (2, 0)


def test_with_marks_it_ends_with_the_first_reading_at_the_mark_that_closes_the_turn() -> None:
    sweep = running(AngleStated(source="marks", mark_u_udeg=2 * DEG))
    for turn, deg in enumerate((0, 120, 240, 360)):
        assert sweep.end is None
        sweep.hear(Mark(inspection="i", time_ns=turn * MS, angle_udeg=deg * DEG))
        sweep.take(Reading("indicator-1", turn, turn * MS, 0, Unit.NM))
    assert sweep.end == "complete"


def test_marks_say_nothing_to_a_sweep_with_an_encoder() -> None:
    hand = Hand(running())
    hand.to(10)
    hand.sweep.hear(Mark(inspection="i", time_ns=MS, angle_udeg=300 * DEG))
    assert hand.sweep.figures().angle_udeg == 10 * DEG


def test_thickness_takes_the_places_in_order_and_ends_with_the_last() -> None:
    sweep = running(AngleStated(source="typed"), check="thickness", places=PLACES)
    for number, place in enumerate(PLACES):
        assert sweep.end is None
        assert sweep.figures().next_place == place
        sweep.take(Reading("indicator-1", number, MS, 38_000_000 + number, Unit.NM))
    assert sweep.end == "complete"
    figures = sweep.figures()
    assert (figures.min_nm, figures.max_nm) == (38_000_000, 38_000_007)


def test_an_encoder_in_counts_reversed() -> None:
    source = AngleStated(source="encoder", gauge="encoder-1", unit=Unit.COUNT, per_turn=14_400, reversed=True)
    sweep = running(source)
    for number, count in enumerate((100, -300, -700)):
        sweep.take(Reading("encoder-1", number, number, count, Unit.COUNT))
    assert sweep.figures().angle_udeg == round(-2.5 * DEG) + 20 * DEG
