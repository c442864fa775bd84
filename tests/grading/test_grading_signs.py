"""What moves a gauge and is no surface is seen, placed and named; what is a surface is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep
from grading.kinds.surfaces import judge_surface
from grading.signs.lone import find_lone
from tests.grading.samples import DATA, method
from tests.grading.swept import COARSE, FINE, RULES, eccentric, judged, said, swept, turn


@pytest.mark.parametrize("gauge", [FINE, COARSE])
def test_a_gauge_that_does_not_move_is_no_sweep(gauge: GaugeFacts) -> None:
    angle = turn()
    step = gauge.resolution_mm
    dead = swept(np.full(600, 0.31), angle, gauge, noise_mm=0.0)
    digits = np.random.default_rng(1).integers(-1, 2, 600) * step
    flicker = replace(dead, value_mm=dead.value_mm + digits)
    creep = replace(dead, value_mm=dead.value_mm + np.round(np.linspace(0, 2, 600)) * step)
    for sweep in (dead, flicker, creep):
        check = judged(sweep)
        assert check.outcome == "invalid"
        assert "see that the plunger touches the surface" in check.reason
        assert check.true_tir_mm is None


@pytest.mark.parametrize("seed", [15, 34, 72, 162])
def test_a_creep_that_a_coarse_display_shows_as_stairs_is_no_surface(seed: int) -> None:
    """Two to two and a half steps over a turn and a last digit that flickers: a sinusoid fits the stairs of
    it better than a straight line does."""
    rng = np.random.default_rng(seed)
    stairs = np.round(rng.choice([-1, 1]) * rng.uniform(2.0, 2.5) * np.linspace(0, 1, 336))
    stairs += rng.integers(-1, 2, 336) * (rng.random(336) < 0.1)
    check = judged(swept(stairs * 0.0127, turn(336, 359.7), GaugeFacts("dial", 0.0127, 0.0127), noise_mm=0.0))
    assert check.outcome == "invalid"
    assert "the readings creep by " in check.reason


@pytest.mark.parametrize(
    ("steps", "why"),
    [
        ([0, 0, 0, -1, -1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0], "flicker by 0.020 mm"),
        ([0, 1, 0, -1, 0, 0, 1, 0, -1, 0, 0, 1], "flicker by 0.020 mm"),
        ([0, -1, 0, 1, 1, 2, 1, 1, 2, 2, 2, 3, 1, 2, 3, 3, 2], "creep by +0.029 mm"),
        ([0, -1, 1, 0, 2, -1, 0, 1, -2, 0, 1, 0, -1, 1, 2, 0, -1, 0, 1, -1], "flicker by 0.040 mm"),
    ],
)
def test_a_needle_that_goes_with_nothing_at_a_few_stops_is_no_sweep(steps: list[int], why: str) -> None:
    """The last one comes back to its first stop."""
    angle = np.linspace(0.0, 360.0, len(steps), endpoint=len(steps) == 17)
    check = judged(typed(np.array(steps) * 0.01, angle))
    assert check.outcome == "invalid"
    assert f"the readings {why}" in check.reason
    assert check.reason.endswith("then take the sweep again at more stops")


def test_one_that_by_chance_goes_with_the_crank_is_a_doubt() -> None:
    """Of a dozen stops low orders explain half by chance; it was `within`."""
    angle = np.linspace(0.0, 360.0, 12, endpoint=False)
    check = judged(typed(np.array([1, 2, 0, 1, -1, -1, -1, -1, 1, 1, 1, 0]) * 0.01, angle))
    assert check.outcome == "unclear"
    assert "by 12 stops a needle that goes with nothing may look so" in check.reason


@settings(max_examples=40, deadline=None)
@given(st.floats(0.03, 0.28), st.floats(0.0, 0.01), st.integers(12, 40), st.floats(0.0, 360.0))
def test_an_honest_needle_is_left_alone_at_a_few_stops(tir: float, zero: float, n: int, high: float) -> None:
    angle = np.linspace(0.0, 360.0, n, endpoint=False)
    assert said(typed(eccentric(angle + high, tir) + zero, angle)) == ""


@pytest.mark.parametrize("order", [6, 9])
def test_few_readings_of_many_waves_follow_the_crank_all_the_same(order: int) -> None:
    """68 readings a turn, TIR 0.045: most of it in waves above the fourth."""
    angle = turn(69, 365.0)
    value = eccentric(angle, 0.015) + 0.016 * np.cos(order * np.deg2rad(angle))
    assert said(swept(value, angle, COARSE)) == ""


@settings(max_examples=40, deadline=None)
@given(st.floats(0.03, 0.28), st.floats(0.0, 0.01), st.integers(0, 10_000))
def test_an_honest_coarse_dial_is_left_alone(tir_mm: float, zero_mm: float, seed: int) -> None:
    angle = turn(150 + seed % 800)
    noise = np.random.default_rng(seed).normal(0.0, 0.001, angle.size)
    assert said(swept(eccentric(angle, tir_mm) + zero_mm + noise, angle, COARSE, noise_mm=0.0)) == ""


def test_a_base_that_slips_on_the_rim_is_placed_and_a_face_is_in_doubt() -> None:
    angle = turn()
    value = eccentric(angle, 0.2) + 0.02 * (angle > 143.0)
    check = judged(swept(value, angle))
    assert check.outcome == "invalid"
    assert "the level jumped by +0.020 mm at 144 degrees and stayed" in check.reason
    face = judged(swept(value, angle, what="face"))
    assert face.outcome in ("within", "unclear")
    assert face.doubts is not None
    assert "one indicator cannot tell" in face.doubts[0]


def test_a_spike_between_close_readings_is_left_out_and_said() -> None:
    angle = turn(1500)
    sweep = swept(eccentric(angle, 0.2), angle)
    value = sweep.value_mm.copy()
    value[217] += 0.36
    spiked, plain = judged(replace(sweep, value_mm=value)), judged(sweep)
    assert spiked.outcome == plain.outcome == "within"
    assert spiked.true_tir_mm == pytest.approx(plain.true_tir_mm, abs=0.001)
    at, read = float(angle[217]), value[217]
    assert spiked.warnings[0] == (
        f"1 single reading was left out that no surface can give ({read:.3f} mm at {at:.0f} degrees); "
        "check cable and contact"
    )


def typed(value_mm: F64, angle_deg: F64) -> Sweep:
    n = angle_deg.size
    return Sweep("rim", angle_deg, np.round(value_mm, 2), np.full(n, 2.0), np.zeros(n), COARSE)


def test_a_typed_reading_left_out_is_a_slip_of_the_pencil_not_of_a_cable() -> None:
    """The place was read twice, and only once like this."""
    angle = np.concatenate([np.arange(0.0, 361.0, 15.0), [90.0]])
    value = eccentric(angle, 0.2)
    value[-1] += 0.1
    (warning,) = judged(typed(value, angle)).warnings
    assert warning == (
        f"1 single reading was left out that no surface can give ({round(value[-1], 2):.3f} mm at 90 "
        "degrees): a slip of the pencil; correct it or read that place again"
    )


@pytest.mark.parametrize(
    ("tir_mm", "is_said"), [(0.004, False), (0.006, True), (0.0125, True), (0.02, True), (0.04, False)]
)
def test_a_figure_that_would_be_near_the_limit_in_inches_is_asked_about(tir_mm: float, is_said: bool) -> None:
    """0.28 mm is 0.011 in. The outcome stays: a rim may be as good as that."""
    angle = turn(400)
    check = judged(swept(eccentric(angle, tir_mm), angle))
    assert check.outcome == "within"
    asked = [warning for warning in check.warnings if "inches" in warning]
    assert bool(asked) is is_said
    if is_said and check.true_tir_mm is not None:
        assert f"{check.true_tir_mm:.3f} inches are {check.true_tir_mm * 25.4:.2f} mm" in asked[0]


def test_a_method_says_how_near_or_not_at_all() -> None:
    angle = turn(400)
    sweep = swept(eccentric(angle, 0.0125), angle)
    rim = {**DATA["rim"], "inch_factor": 1.0}
    assert not any("inches" in w for w in judge_surface("rim", [sweep], method(rim=rim)).warnings)


@pytest.mark.parametrize("off_mm", [0.36, 0.9, 100.0])
def test_a_slip_of_the_pencil_is_asked_for_again_by_place(off_mm: float) -> None:
    angle = np.arange(0.0, 361.0, 24.0)
    value = eccentric(angle, 0.2)
    value[4] += off_mm
    check = judged(typed(value, angle))
    assert check.outcome == "invalid"
    assert "at 96 degrees; read that place again" in check.reason


@pytest.mark.slow
@pytest.mark.parametrize("readings", [14, 24, 37])
def test_one_slip_of_the_pencil_condemns_nothing_and_no_chance_contradicts_its_interval(
    readings: int,
) -> None:
    """0.20 mm, one typed reading off: "0.513 ± 0.332, chance of being over above 99.9 %" says two things."""
    angle = np.linspace(0.0, 360.0, readings)
    for at in range(1, readings, 10):
        for off_mm in (0.1, 0.3, -0.5):
            value = eccentric(angle, 0.2)
            value[at] += off_mm
            check = judged(typed(value, angle))
            assert check.outcome != "over"
            if (check.p_over or 0.0) > 0.999:
                assert (check.true_tir_mm or 0.0) - (check.u_expanded_mm or 0.0) > check.limit_mm


def test_nor_does_one_among_several_waves() -> None:
    """0.53 written as 0.73 at 13 stops of a sound damper of four waves: "0.381 ± 0.227" was `over`."""
    shown = [0.43, 0.39, 0.45, 0.49, 0.43, 0.48, 0.59, 0.55, 0.73, 0.61, 0.57, 0.49, 0.43]
    check = judged(typed(np.array(shown), np.arange(0.0, 361.0, 30.0)))
    assert check.outcome == "unclear"
    assert "may be a slip of one reading" in check.reason


def test_a_place_read_twice_alike_is_there() -> None:
    """A dent that one stop alone has met: once it is in doubt, twice it counts."""
    angle = np.arange(0.0, 361.0, 15.0)
    value = eccentric(angle, 0.2)
    value[9] -= 0.1
    once = typed(value, angle)
    assert find_lone(once, RULES).doubtful.tolist() == [9]
    twice = typed(np.append(value, value[9]), np.append(angle, angle[9]))
    assert find_lone(twice, RULES).doubtful.size == 0


@pytest.mark.parametrize("notch", [0.0, 0.05])
def test_a_notched_rim_is_seen_as_it_is(notch: float) -> None:
    """24 notches, 3 degrees wide: 0.25 of eccentricity alone, 0.30 with them."""
    angle = turn(2000)
    value = 0.125 * np.cos(np.deg2rad(angle)) - notch * (np.mod(angle, 15.0) < 3.0)
    check = judged(swept(value, angle))
    assert check.true_tir_mm is not None
    assert check.u_expanded_mm is not None
    assert abs(check.true_tir_mm - (0.25 + notch)) < check.u_expanded_mm < 0.03
    assert check.outcome in (("within",) if notch == 0.0 else ("over", "unclear"))


def test_an_order_of_forty_is_no_noise() -> None:
    angle = turn(1200)
    value = 0.13 * np.cos(np.deg2rad(angle)) + 0.02 * np.cos(np.deg2rad(40 * angle))
    check = judged(swept(value, angle))
    assert check.outcome == "over"
    assert check.true_tir_mm == pytest.approx(0.30, abs=0.006)


def test_what_a_needle_shows_between_stops_counts() -> None:
    """A dent of 0.12 between two stops: nobody saw it, or the needle's lowest was written down."""
    angle = np.arange(0.0, 361.0, 20.0)
    value = eccentric(angle, 0.2)
    blind = judged(typed(value, angle))
    low, high = np.minimum(value, np.roll(value, 1)), np.maximum(value, np.roll(value, 1))
    dense = turn(4000, 360.0)
    surface = eccentric(dense, 0.2) - 0.12 * np.exp(-(((dense - 230.0) / 3.0) ** 2))
    for i in range(1, angle.size):
        part = surface[(dense >= angle[i - 1]) & (dense <= angle[i])]
        low[i], high[i] = part.min(), part.max()
    low[0], high[0] = np.nan, np.nan
    lowest, highest = (np.asarray(np.round(x, 2), np.float64) for x in (low, high))
    seen = judged(replace(typed(value, angle), low_mm=lowest, high_mm=highest))
    truth = float(np.ptp(surface))
    assert abs((seen.true_tir_mm or 0.0) - truth) <= (seen.u_expanded_mm or 0.0) < 0.03
    assert abs((blind.true_tir_mm or 0.0) - truth) > 0.03


def test_a_needle_column_that_copies_the_stops_shows_nothing_between_them() -> None:
    """An oval of 0.32 mm read each 45 degrees, beside its crests: who copies each reading into low and high
    watched no needle, whose way began at the stop before."""
    angle = np.arange(0.0, 361.0, 45.0)
    plain = typed(0.16 * np.cos(2 * np.deg2rad(angle - 22.5)), angle)
    copied = judged(replace(plain, low_mm=plain.value_mm.copy(), high_mm=plain.value_mm.copy()))
    assert copied.outcome == judged(plain).outcome == "over"
    assert any("to 90 degrees leaves out the stop before" in said for said in copied.warnings)


def test_told_angle_errors_flatten_nothing() -> None:
    """Angles wrong by 4 degrees (standard) show exp(-k^2 u^2 / 2) of order k: at order 8, 86 %. The estimate
    is of the surface, not of what is left of it."""
    true = turn(3000)
    t = np.deg2rad(true)
    rng = np.random.default_rng(5)
    value = 0.08 * np.cos(t) + 0.05 * np.cos(8 * t)
    dense = np.deg2rad(turn(20000, 360.0))
    tir = float(np.ptp(0.08 * np.cos(dense) + 0.05 * np.cos(8 * dense)))
    sweep = swept(value, true)
    told = replace(sweep, angle_deg=true + rng.normal(0, 4.0, true.size), angle_u_deg=np.full(true.size, 4.0))
    found = judged(told)
    assert found.true_tir_mm is not None
    assert found.u_expanded_mm is not None
    assert abs(found.true_tir_mm - tir) < min(found.u_expanded_mm, 0.006)


@pytest.mark.parametrize("side", ["low_mm", "high_mm"])
def test_one_end_alone_that_the_needle_was_seen_at_counts(side: str) -> None:
    """0.20 at the stops; between two of them the needle went 0.15 further, on one side."""
    angle = np.arange(0.0, 361.0, 15.0)
    plain = typed(eccentric(angle, 0.2), angle)
    seen = np.full(angle.size, np.nan)
    seen[7] = plain.value_mm.max() + 0.15 if side == "high_mm" else plain.value_mm.min() - 0.15
    low, high = (seen, None) if side == "low_mm" else (None, seen)
    check = judged(replace(plain, low_mm=low, high_mm=high))
    assert check.outcome == "over"
    assert check.tir_mm == pytest.approx(float(np.ptp(plain.value_mm)) + 0.15)


@pytest.mark.parametrize("again", ["seen again", "not watched"])
def test_what_the_needle_showed_counts_where_sweeps_are_taken_together(again: str) -> None:
    """Two sweeps, each over by what the needle showed between stops, are no `within` together."""
    angle = np.arange(0.0, 361.0, 15.0)
    plain = typed(eccentric(angle, 0.12), angle)
    before = np.roll(plain.value_mm, 1)
    low, high = np.minimum(plain.value_mm, before), np.maximum(plain.value_mm, before)
    low[5] = plain.value_mm.min() - 0.2
    seen = replace(plain, low_mm=low, high_mm=high)
    assert judged(seen).outcome == "over"
    both = judged(seen, seen if again == "seen again" else plain)
    assert both.outcome == ("over" if again == "seen again" else "unclear"), both.reason


def test_what_hides_between_stops_is_no_less_for_a_glance_at_the_needle() -> None:
    """12 stops, and the needle watched on one way: the dent that may hide elsewhere is the same one in both
    sweeps, wherever the dial was begun, and its chance is not averaged away."""
    angle = np.arange(0.0, 361.0, 30.0)

    def glanced(begun_deg: float) -> Sweep:
        plain = typed(eccentric(angle + begun_deg, 0.2), angle)
        low, high = np.full((2, angle.size), np.nan)
        low[3], high[3] = np.sort(plain.value_mm[2:4])
        return replace(plain, low_mm=low, high_mm=high)

    alone, together = (judged(*(glanced(at) for at in begun)) for begun in ((0.0,), (0.0, 60.0)))
    assert (together.p_over or 0.0) > 0.7 * (alone.p_over or 0.0) > 0.01


def test_half_a_turn_that_was_watched_twice_is_no_whole_one() -> None:
    """Barred forth and back over half of it under the eye, and on to the end without."""
    angle = np.concatenate(
        [np.arange(0.0, 181.0, 15.0), np.arange(165.0, -1.0, -15.0), turn(24, 345.0) + 15.0]
    )
    plain = typed(eccentric(angle, 0.2), angle)
    low, high = np.full((2, angle.size), np.nan)
    both = np.stack([plain.value_mm[:24], plain.value_mm[1:25]])
    low[1:25], high[1:25] = both.min(axis=0), both.max(axis=0)
    blind, watched = judged(plain), judged(replace(plain, low_mm=low, high_mm=high))
    assert (watched.p_over or 0.0) > 0.5 * (blind.p_over or 0.0) > 0.002
