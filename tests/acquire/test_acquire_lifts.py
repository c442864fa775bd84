"""Three lifts at the bay, over a virtual gauge: recognised, ended, judged, journalled and graded."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from statistics import stdev

import pytest

from acquire.bay.evidence import lift_tests, to_evidence
from acquire.bay.inspection import fold
from acquire.journal.events import SweepBegun, SweepEnded
from contract.document import encode
from contract.gauge import GaugeFacts
from contract.live import Live
from contract.units import Unit
from drivers.state import PortState
from grading.assess import assess
from grading.evidence import Sweep, Thickness
from simulators.gauge import SimGauge
from tests.acquire.workbench import ENCODER, INDICATOR, KEYED, Workbench

Make = Callable[..., Workbench]
UP_NM = 800_000


class Technician:
    """Lifts the plunger of a virtual gauge that reads `period_s` apart, the crank standing at 30 degrees."""

    def __init__(
        self, bench: Workbench, *, noise_nm: float = 0.0, period_s: float = 0.05, seed: int = 1
    ) -> None:
        profile = bench.files.profiles[INDICATOR]
        self.gauge = SimGauge(profile, random.Random(seed), resolution=1_000, noise=noise_nm)
        self.bench = bench
        self.period_s = period_s
        self.level_nm = 500_000.0
        self.angle_udeg = 30_000_000

    def stand(self, seconds: float, *, creep_nm_per_s: float = 0.0) -> None:
        """Readings while nobody touches anything, until the test ends."""
        for _ in range(round(seconds / self.period_s)):
            if not self.bench.bay.is_sweeping:
                return
            self.bench.wait(self.period_s)
            self.level_nm += creep_nm_per_s * self.period_s
            self.bench.read(ENCODER, self.angle_udeg, Unit.UDEG)
            self.bench.read(INDICATOR, self.gauge.shown(self.level_nm, 0))

    def lift(self, until_nm: float | None = None, *, held_s: float = 1.0) -> None:
        """Up, held, and back, to a level that may be another."""
        back_nm = self.level_nm if until_nm is None else until_nm
        self.level_nm += UP_NM
        self.stand(held_s)
        self.level_nm = back_nm

    def test(self, levels_nm: Sequence[float]) -> None:
        """A whole test: the level after each lift."""
        self.stand(2)
        for level in levels_nm:
            self.lift(level)
            self.stand(3)


def live(bench: Workbench) -> Live:
    found = bench.bay.live()
    assert found is not None
    return found


def begin(bench: Workbench, gauge: str = INDICATOR) -> None:
    if bench.bay.latest is None:
        bench.open(scope="both")
    assert bench.do("begin", check="lifts", gauge=gauge)["lifts"] == 3


def gauge_of(bench: Workbench, check: str = "rim") -> GaugeFacts:
    found = to_evidence(bench.state()).attempts[check][-1]
    assert isinstance(found, (Sweep, Thickness))
    return found.gauge


def rim(bench: Workbench, gauge: str = INDICATOR) -> None:
    """One turn of an offset circle of 0.2 mm."""
    bench.do("begin", check="rim", gauge=gauge)
    for angle in range(0, 400, 5):
        if bench.bay.is_sweeping:
            height_nm = round(100_000 * math.cos(math.radians(angle)))
            bench.bar(angle, angle + 5, step_deg=5, value_nm=height_nm // 1000 * 1000 - angle % 360)


def test_three_lifts_take_twenty_seconds_and_give_their_standard_deviation(bench: Workbench) -> None:
    begin(bench)
    began_ns = bench.clock.now_ns
    hand = Technician(bench)
    told: list[tuple[int | None, str | None]] = []
    hand.stand(1)
    told.append((live(bench).lifts, live(bench).next_step))
    hand.stand(1)
    for level in (501_000, 499_000, 503_000):
        told.append((live(bench).lifts, live(bench).next_step))
        hand.lift(level)
        told.append((live(bench).lifts, live(bench).next_step))
        hand.stand(3)
    assert told == [
        (0, "wait: indicator-1 must stand still for 1.5 s"),
        (0, "lift 1 of 3: lift the plunger and let it back"),
        (
            0,
            "let the plunger back on the surface; if it is back, something has moved: cancel and begin again",
        ),
        (1, "lift 2 of 3: lift the plunger and let it back"),
        (
            1,
            "let the plunger back on the surface; if it is back, something has moved: cancel and begin again",
        ),
        (2, "lift 3 of 3: lift the plunger and let it back"),
        (
            2,
            "let the plunger back on the surface; if it is back, something has moved: cancel and begin again",
        ),
    ]
    assert not bench.bay.is_sweeping  # by itself
    assert bench.clock.now_ns - began_ns < 20e9
    (test,) = lift_tests(bench.state()).values()
    assert test.fault is None
    assert test.valid is not None
    # 1, -1, 3 um: mean 1, squares 0 + 4 + 4, by hand.
    assert test.valid.dof == 2
    assert test.valid.sd_mm == pytest.approx(0.002, rel=1e-9)
    assert (live(bench).check, live(bench).repeatability_mm) == (None, 0.002)
    ended = bench.journal_events()[-1]
    assert isinstance(ended, SweepEnded)
    assert ended.reason == "complete"
    bench.do("begin", check="rim", gauge=INDICATOR)
    assert live(bench).repeatability_mm is None


def test_lifts_that_show_the_same_prove_no_more_than_the_displays_step(bench: Workbench) -> None:
    begin(bench)
    Technician(bench).test([500_000] * 3)
    rim(bench)
    assert gauge_of(bench).repeatability_mm == pytest.approx(0.001 / 12**0.5)


@pytest.mark.parametrize(("period_s", "noise_nm"), [(0.02, 5_000), (0.1, 2_000), (0.7, 1_000)])
def test_noise_and_a_slow_gauge_are_no_hindrance(bench: Workbench, period_s: float, noise_nm: float) -> None:
    """Requested gauges answer slowly; free-running ones are fast and may be noisy."""
    begin(bench)
    hand = Technician(bench, noise_nm=noise_nm, period_s=period_s)
    hand.stand(5)
    for done in range(3):
        assert live(bench).lifts == done
        hand.lift(held_s=2)
        hand.stand(5)
    (test,) = lift_tests(bench.state()).values()
    assert test.valid is not None
    assert 0.05 * noise_nm < test.valid.sd_mm * 1e6 < 3 * noise_nm


def test_what_is_no_lift_counts_none(bench: Workbench) -> None:
    begin(bench)
    hand = Technician(bench)
    hand.stand(2)
    bench.read(INDICATOR, UP_NM)  # one wild value: the line, not the hand
    hand.stand(3)
    hand.level_nm += 40_000  # leaning on the stand
    hand.stand(0.5)
    hand.level_nm -= 40_000
    hand.stand(3)
    assert live(bench).lifts == 0
    hand.lift(held_s=6)  # held up, standing still there
    assert live(bench).lifts == 0
    hand.stand(3)
    assert live(bench).lifts == 1


def moved(hand: Technician) -> None:
    hand.angle_udeg += 2_000_000
    hand.stand(0.2)


def marked(hand: Technician) -> None:
    hand.bench.do("mark", angle_deg=120)


def drifted(hand: Technician) -> None:
    hand.stand(5, creep_nm_per_s=3_000)


def ran_away(hand: Technician) -> None:
    hand.lift(560_000)
    hand.stand(3)
    hand.lift(500_000)
    hand.stand(3)


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (moved, "the crank moved by 2.0 degrees; leave it standing"),
        (marked, "the crank was barred to a mark; leave it standing"),
        (drifted, "the value drifts"),
        (ran_away, "the lifts differ by 0.060 mm; check base"),
    ],
)
def test_a_spoilt_test_says_so_and_what_to_do(
    bench: Workbench, harm: Callable[[Technician], None], said: str
) -> None:
    begin(bench)
    hand = Technician(bench)
    hand.stand(2)
    harm(hand)
    for _ in range(3):
        if not bench.bay.is_sweeping:
            break
        assert said in live(bench).warnings[-1] or harm is ran_away
        hand.lift()
        hand.stand(3)
    assert not bench.bay.is_sweeping
    assert said in live(bench).warnings[-1]
    rim(bench)
    gauge = gauge_of(bench)
    assert gauge.repeatability_mm is None
    assert gauge.repeatability_fault is not None
    assert said in gauge.repeatability_fault
    check = assess(to_evidence(bench.state()), bench.files.method).checks.rim
    assert check is not None
    assert any("repeatability test of indicator-1 does not count: the" in text for text in check.warnings)


def test_a_test_ended_too_early_does_not_count_and_a_cancelled_one_says_nothing(bench: Workbench) -> None:
    begin(bench)
    hand = Technician(bench)
    hand.test([500_000])
    bench.do("end")
    assert live(bench).warnings == (
        "the repeatability test of indicator-1 does not count: "
        "it has 1 lift, at least 3 are needed; begin again",
    )
    begin(bench)
    hand.test([500_000])
    bench.do("cancel")
    assert live(bench).warnings == ()
    assert len(bench.state().finished) == 1


def test_the_latest_valid_test_counts_for_the_whole_inspection(bench: Workbench) -> None:
    bench.open(scope="both")
    rim(bench)
    assert gauge_of(bench).repeatability_dof is None
    before = bench.state().revision
    for levels in ([500_000, 502_000, 504_000], [500_000, 501_000, 502_000], [500_000, 580_000, 500_000]):
        begin(bench)
        Technician(bench).test(levels)
    assert bench.state().revision == before + 3
    gauge = gauge_of(bench)  # of a sweep taken before: the third test does not count, the second does
    assert gauge.repeatability_dof == 2
    assert gauge.repeatability_mm == pytest.approx(0.001)
    rim(bench)
    result = assess(to_evidence(bench.state()), bench.files.method)
    check = result.checks.rim
    assert check is not None
    assert check.gauge is not None
    assert check.budget is not None
    assert check.gauge.repeatability_dof == 2
    assert check.gauge.repeatability_mm == pytest.approx(0.001)
    assert any("the one before it does: the lifts differ by 0" in text for text in check.warnings)
    assert any("between lifts" in line.source for line in check.budget)
    assert check.sweeps == 2  # a test between two sweeps keeps them from nothing
    again = assess(to_evidence(fold(bench.journal.read(bench.bay.latest or ""))), bench.files.method)
    assert encode(again) == encode(result)
    # And of every revision, what it was made of then.
    assert to_evidence(fold(bench.journal_events(), revision=before)).attempts.keys() == {"rim"}


def test_another_gauge_knows_nothing_of_it(bench: Workbench) -> None:
    begin(bench, KEYED)
    for value in (38_001_000, 38_003_000, 38_002_000):
        assert (
            live(bench).next_step
            == f"lift {1 + (live(bench).lifts or 0)} of 3: lift, set down again and press the key"
        )
        bench.wait(4)
        bench.read(KEYED, value)
    assert not bench.bay.is_sweeping  # one reading for each lift
    rim(bench)
    assert gauge_of(bench).repeatability_mm is None
    bench.do("begin", check="thickness", gauge=KEYED)
    for n in range(8):
        bench.read(KEYED, 38_000_000 + 1_000 * n)
    bench.read(KEYED, 0)  # its zero, closed
    gauge = gauge_of(bench, "thickness")
    assert gauge.repeatability_dof == 2
    assert gauge.repeatability_mm == pytest.approx(0.001)
    check = assess(to_evidence(bench.state()), bench.files.method).checks.thickness
    assert check is not None
    assert check.budget is not None
    assert "lifts at the bay" in check.budget[0].source


def test_who_ends_a_test_that_does_not_count_is_told_so(bench: Workbench) -> None:
    assert bench.open(scope="both")
    begin(bench, "typed")
    bench.do("record", check="lifts", value_mm=0.5)
    reply = bench.do("end")
    assert reply["counts"] is False
    assert reply["reason"] == "it has 1 lift, at least 3 are needed; begin again"


def test_a_dial_is_lifted_and_typed_three_times_or_more(bench: Workbench) -> None:
    assert bench.open(scope="both")
    assert bench.refused("record", check="lifts", value_mm=0.5) == "out-of-order"
    begin(bench, "typed")
    assert bench.refused("record", check="lifts", value_mm=0.5, angle_deg=3) == "malformed"
    assert bench.refused("record", check="rim", value_mm=0.5, angle_deg=3) == "out-of-order"
    assert bench.refused("begin", check="rim", gauge=INDICATOR) == "out-of-order"
    assert bench.refused("close", inspection="truck-14") == "out-of-order"
    for value in (0.500, 0.505, 0.510, 0.505):
        reply = bench.do("record", check="lifts", value_mm=value)
    assert reply["readings"] == 4
    assert live(bench).next_step == "lift 5: lift the plunger, let it back and record what it shows, or end"
    assert bench.do("end")["counts"] is True
    bench.do("begin", check="rim", gauge="typed")
    for angle in range(0, 375, 15):
        bench.do("record", angle_deg=angle, value_mm=0.01 * (angle % 60))
    bench.do("end")
    gauge = gauge_of(bench)
    assert gauge.repeatability_dof == 3
    assert gauge.repeatability_mm == pytest.approx((0.00005 / 3) ** 0.5)
    for station in (0, 90, 180, 270):
        for radius in ("outer", "inner"):
            bench.do("record", check="thickness", station_deg=station, radius=radius, value_mm=38)
    assert gauge_of(bench, "thickness").repeatability_mm is None  # a dial is no micrometer


@pytest.mark.parametrize("boots", [False, True])
@pytest.mark.parametrize("while_up", [False, True])
def test_a_test_goes_on_after_a_restart(bench: Workbench, boots: bool, while_up: bool) -> None:
    begin(bench)
    hand = Technician(bench)
    hand.test([501_000])
    if while_up:
        hand.level_nm += UP_NM
        hand.stand(0.5)
    bench.restart(now_ns=5_000_000 if boots else None)
    assert live(bench).lifts == 1
    hand.level_nm = 502_000
    hand.stand(3)
    assert live(bench).lifts == (2 if while_up else 1)
    for level in (503_000, 504_000):
        hand.lift(level)
        hand.stand(3)
    (test,) = lift_tests(bench.state()).values()
    assert test.valid is not None
    levels = [501_000, 502_000, 503_000] if while_up else [501_000, 503_000, 504_000]
    assert test.valid.sd_mm == pytest.approx(stdev(levels) / 1e6)
    bench.restart()  # what it came to is still said
    assert live(bench).repeatability_mm == round(stdev(levels) / 1e6, 4)


def test_a_gauge_that_goes_away_says_what_to_do_and_comes_back(bench: Workbench) -> None:
    begin(bench)
    hand = Technician(bench)
    hand.test([500_000])
    bench.gauge(INDICATOR, PortState.LOST)
    assert live(bench).next_step == "indicator-1 gives no readings: switch it on and check its cable"
    assert live(bench).value_mm is None
    bench.gauge(INDICATOR, PortState.LIVE)
    hand.stand(3)
    assert live(bench).lifts == 1
    for _ in range(2):
        hand.lift()
        hand.stand(3)
    assert not bench.bay.is_sweeping


@pytest.mark.parametrize("source", ["encoder", "marks"])
def test_lifts_need_no_angle(make: Make, source: str) -> None:
    bench = make(source)
    if source == "encoder":
        bench.gauge(ENCODER, PortState.LOST)
    begin(bench)
    begun = bench.journal_events()[-1]
    assert isinstance(begun, SweepBegun)
    assert begun.angle.gauge is None
    Technician(bench).test([500_000, 501_000, 500_000])
    assert not bench.bay.is_sweeping
    assert live(bench).warnings == ()
