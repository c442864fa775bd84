"""Laws of the angle tags: they hold for any crank, any encoder, any order in which things were kept."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.angle.frames import shorter_way, unwrap
from acquire.angle.tagger import tag_sweep
from acquire.errors import FoldError
from acquire.journal.events import (
    AngleStated,
    Event,
    GaugeAway,
    GaugeBack,
    Mark,
    Resumed,
    Sample,
    SweepBegun,
    TypedRunout,
)
from contract.gauge import GaugeFacts
from contract.units import Unit
from grading.evidence import Sweep

TURN = 360_000_000
MS = 1_000_000
ENCODER = AngleStated(source="encoder", gauge="encoder-1", step=1000)
MARKS = AngleStated(source="marks", mark_u_udeg=2_000_000)


def begun(angle: AngleStated = ENCODER, latency_u_ns: int = 0) -> SweepBegun:
    gauge = GaugeFacts(id="indicator-1", resolution_mm=0.001, mpe_mm=0.004, latency_u_ns=latency_u_ns)
    return SweepBegun(inspection="i", time_ns=0, check="rim", gauge=gauge, angle=angle)


def sample(gauge: str, number: int, time_ns: int, value: int, seq: int = 0) -> Sample:
    unit = Unit.NM if gauge == "indicator-1" else Unit.UDEG
    return Sample(
        inspection="i", seq=seq, time_ns=time_ns, gauge=gauge, reading=number, value=value, unit=unit
    )


def dial(number: int, time_ns: int, value: int = 0) -> Sample:
    return sample("indicator-1", number, time_ns, value)


def crank(number: int, time_ns: int, udeg: int) -> Sample:
    return sample("encoder-1", number, time_ns, udeg % TURN)


@st.composite
def sweeps(draw: st.DrawFn) -> tuple[list[Sample], list[int]]:
    """An uneven crank, never over 100 degrees between two encoder values; its unwrapped angles beside."""
    moves = draw(st.lists(st.integers(-100_000_000, 100_000_000), min_size=2, max_size=30))
    start = draw(st.integers(0, TURN - 1))
    angles = [start, *(start + int(a) for a in np.cumsum(moves))]
    events = [crank(n, n * 20 * MS, angle) for n, angle in enumerate(angles)]
    times = draw(st.lists(st.integers(0, 20 * MS * len(moves)), min_size=1, max_size=40))
    events += [dial(n, time, 1000 * n) for n, time in enumerate(sorted(times))]
    return events, angles


def same(one: Sweep, other: Sweep) -> None:
    for name in ("angle_deg", "value_mm", "angle_u_deg", "time_s"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    assert (one.lost, one.interrupted) == (other.lost, other.interrupted)


@given(sweeps(), st.randoms(use_true_random=False))
def test_order_and_doubling_of_what_was_kept_change_nothing(
    sweep: tuple[list[Sample], list[int]], rng: random.Random
) -> None:
    events = sweep[0]
    mixed = events + rng.choices(events, k=5)
    rng.shuffle(mixed)
    same(tag_sweep([begun(), *events]), tag_sweep([begun(), *mixed]))


@given(sweeps(), st.integers(0, TURN - 1))
def test_another_origin_of_the_encoder_moves_every_angle_by_the_same(
    sweep: tuple[list[Sample], list[int]], shift: int
) -> None:
    events = sweep[0]
    moved = [replace(e, value=(e.value + shift) % TURN) if e.gauge == "encoder-1" else e for e in events]
    one, other = tag_sweep([begun(), *events]), tag_sweep([begun(), *moved])
    difference = other.angle_deg - one.angle_deg
    assert np.ptp(difference) < 1e-6
    assert (difference[0] - shift / 1e6) % 360 == pytest.approx(0, abs=1e-6) or (
        difference[0] - shift / 1e6
    ) % 360 == pytest.approx(360, abs=1e-6)
    np.testing.assert_allclose(other.angle_u_deg, one.angle_u_deg, atol=1e-9)


@given(sweeps())
def test_either_direction_gives_mirrored_angles(sweep: tuple[list[Sample], list[int]]) -> None:
    events = sweep[0]
    mirrored = [replace(e, value=-e.value % TURN) if e.gauge == "encoder-1" else e for e in events]
    one = tag_sweep([begun(), *events])
    other = tag_sweep([begun(), *mirrored])
    by_setting = tag_sweep([begun(replace(ENCODER, reversed=True)), *mirrored])
    np.testing.assert_allclose(np.diff(other.angle_deg), -np.diff(one.angle_deg), atol=1e-6)
    np.testing.assert_allclose(np.diff(by_setting.angle_deg), np.diff(one.angle_deg), atol=1e-6)
    np.testing.assert_allclose(by_setting.angle_u_deg, one.angle_u_deg, atol=1e-9)


@given(sweeps())
def test_every_tag_lies_between_the_encoder_values_around_it_or_half_a_step_beyond(
    sweep: tuple[list[Sample], list[int]],
) -> None:
    events, angles = sweep
    tagged = tag_sweep([begun(), *events])
    times = sorted(e.time_ns for e in events if e.gauge == "indicator-1")
    assert tagged.angle_deg.size == len(times)
    for time, angle in zip(times, tagged.angle_deg, strict=True):
        before = min(time // (20 * MS), len(angles) - 2)
        low, high = sorted(angles[before : before + 2])
        assert low / 1e6 - 0.000501 <= angle <= high / 1e6 + 0.000501


@given(st.lists(st.integers(-179_999_999, 179_999_999), max_size=50), st.integers(0, TURN - 1))
def test_unwrapping_gives_back_any_crank_that_moves_under_half_a_turn_between_two_values(
    moves: list[int], start: int
) -> None:
    true = start + np.concatenate([[0], np.cumsum(np.array(moves, dtype=np.int64))])
    np.testing.assert_array_equal(unwrap(true % TURN, TURN), true)
    np.testing.assert_array_equal(unwrap(true, TURN), true)  # an encoder that counts on


@given(st.integers(-(2**40), 2**40), st.integers(2, 2**30))
def test_the_shorter_way_is_at_most_half_a_turn_and_leads_to_the_same_place(step: int, per_turn: int) -> None:
    way = int(shorter_way(np.array([step]), per_turn)[0])
    assert abs(way) <= (per_turn + 1) // 2
    assert (way - step) % per_turn == 0


@given(
    st.integers(-150_000, 150_000),
    st.lists(st.integers(0, 1000 * MS), min_size=1, max_size=50),
    st.integers(1, 50),
)
def test_interpolation_is_exact_on_a_crank_that_turns_evenly(
    udeg_per_ms: int, times: list[int], every_ms: int
) -> None:
    last_ms = -(-1000 // every_ms) * every_ms
    events: list[Event] = [begun()]
    events += [crank(n, t * MS, t * udeg_per_ms) for n, t in enumerate(range(0, last_ms + 1, every_ms))]
    events += [dial(n, time) for n, time in enumerate(sorted(times))]
    tagged = tag_sweep(events)
    expected = np.array(sorted(times)) / MS * udeg_per_ms / 1e6
    np.testing.assert_allclose(tagged.angle_deg, expected, atol=1e-7)


def test_counts_are_angles_by_counts_per_turn() -> None:
    source = replace(ENCODER, unit=Unit.COUNT, per_turn=14_400, step=1)
    events: list[Event] = [begun(source)]
    events += [sample("encoder-1", n, n * MS, 14_300 + 100 * n) for n in range(3)]
    events += [dial(0, 0), dial(1, MS), dial(2, 2 * MS)]
    np.testing.assert_allclose(tag_sweep(events).angle_deg, [357.5, 360.0, 362.5])


@given(sweeps(), st.floats(0.2, 20.0))
def test_gears_between_scale_every_angle_and_its_uncertainty(
    sweep: tuple[list[Sample], list[int]], gear: float
) -> None:
    one = tag_sweep([begun(), *sweep[0]])
    other = tag_sweep([begun(replace(ENCODER, gear=gear)), *sweep[0]])
    np.testing.assert_allclose(other.angle_deg * gear, one.angle_deg, atol=1e-6)
    np.testing.assert_allclose(other.angle_u_deg * gear, one.angle_u_deg, atol=1e-9)


def test_uncertainty_joins_step_time_and_uneven_turning() -> None:
    # 20 ms between two values; 0.1 degrees a millisecond, then 0.05: both clocks uncertain by 1 ms.
    source = replace(ENCODER, step=100_000, latency_u_ns=MS)
    events: list[Event] = [begun(source, latency_u_ns=MS)]
    events += [crank(0, 0, 0), crank(1, 20 * MS, 2_000_000), crank(2, 40 * MS, 3_000_000)]
    events += [dial(0, 0), dial(1, 10 * MS)]
    at_start, midway = tag_sweep(events).angle_u_deg
    time = 0.1 * 2**0.5
    # A whole step wide, 95 % of it; midway two halves of it join to a triangle, which holds 95 % within
    # 1 - sqrt(0.05) of its half-width.
    step, joined = 0.1 * 0.95 / 4, 0.1 * (1 - 0.05**0.5) / 4
    uneven = 0.25 * 20 * (0.1 - 0.05) / 2
    assert at_start == pytest.approx((step**2 + time**2) ** 0.5)
    assert midway == pytest.approx((joined**2 + time**2 + uneven**2) ** 0.5)


def test_an_encoder_that_moves_in_coarse_steps_is_found_out() -> None:
    events: list[Event] = [begun()]
    events += [crank(n, n * MS, 500_000 * (n * n % 23)) for n in range(40)]
    events += [dial(0, 39 * MS)]
    fine = [
        begun(),
        *(crank(n, n * MS, 500_000 * (n * n % 23) + 1000 * n) for n in range(40)),
        dial(0, 39 * MS),
    ]
    assert tag_sweep(events).angle_u_deg[0] == pytest.approx(0.5 * 0.95 / 4)
    assert tag_sweep(fine).angle_u_deg[0] == pytest.approx(0.001 * 0.95 / 4)


def test_between_marks_time_tells_and_the_uncertainty_is_largest_midway() -> None:
    events: list[Event] = [begun(MARKS)]
    events += [mark(0, 1000), mark(120, 2000), mark(240, 4000)]
    events += [dial(n, t * MS) for n, t in enumerate((500, 900, 1000, 1500, 2000, 3000, 4000, 4100, 5000))]
    tagged = tag_sweep(events)
    np.testing.assert_allclose(tagged.angle_deg, [0, 0, 60, 120, 180, 240, 240])
    u = tagged.angle_u_deg
    assert u[1] == u[3] == u[5] == pytest.approx(2.0)
    assert u[2] == u[4] == pytest.approx((2**2 + 120**2 / 12) ** 0.5)
    # 0.1 s beyond a mark, the crank may have gone on as it came: 12 and 6 degrees.
    assert u[0] == pytest.approx((2**2 + 12**2) ** 0.5)
    assert u[6] == pytest.approx((2**2 + 6**2) ** 0.5)


def mark(deg: int, time_ms: int) -> Mark:
    return Mark(inspection="i", time_ns=time_ms * MS, angle_udeg=deg * 1_000_000)


def test_marks_passed_backwards_give_falling_angles() -> None:
    events = [begun(MARKS), mark(120, 0), mark(0, 1000), dial(0, 250 * MS), dial(1, 750 * MS)]
    np.testing.assert_allclose(tag_sweep(events).angle_deg, [90, 30])


def test_while_the_encoder_was_away_readings_have_no_angle_and_count_as_lost() -> None:
    away = GaugeAway(inspection="i", time_ns=2500 * MS, gauge="encoder-1", reason="unplugged")
    back = GaugeBack(inspection="i", time_ns=4900 * MS, gauge="encoder-1")
    events: list[Event] = [begun()]
    events += [crank(n, t * MS, 10_000 * t) for n, t in enumerate((0, 1000, 5000, 6000))]
    events += [dial(n, n * 500 * MS) for n in range(13)]
    tagged = tag_sweep([*events, away, back])
    np.testing.assert_allclose(tagged.angle_deg, [0, 5, 10, 50, 55, 60])
    assert tagged.lost == 7
    assert tagged.interrupted == ("encoder-1 was away for 2.4 s, from 10 degrees on",)
    assert tag_sweep(events).angle_deg.size == 13


def test_a_gauge_unplugged_leaves_a_gap_that_is_told() -> None:
    away = GaugeAway(inspection="i", time_ns=300 * MS, gauge="indicator-1", reason="unplugged")
    events: list[Event] = [begun(), *(crank(n, n * 100 * MS, n * 1_000_000) for n in range(11))]
    events += [dial(0, 0), dial(1, 100 * MS), away, dial(5, 900 * MS), dial(6, 1000 * MS)]
    tagged = tag_sweep(events)
    np.testing.assert_allclose(tagged.angle_deg, [0, 1, 9, 10])
    assert tagged.lost == 3
    assert tagged.interrupted == ("indicator-1 was away until the end, from 1 degrees on",)


def test_nothing_is_interpolated_across_a_restart() -> None:
    events: list[Event] = [begun()]
    events += [crank(0, 0, 0), crank(1, 100 * MS, 350_000_000), dial(0, 50 * MS), dial(1, 150 * MS)]
    # The machine booted: its clock and the drivers' numbers begin anew; the crank went on by 20 degrees.
    resumed = Resumed(inspection="i", time_ns=10 * MS, utc="2026-03-02T06:00:00.000Z")
    after: list[Event] = [dial(0, 15 * MS), crank(0, 20 * MS, 10_000_000), crank(1, 120 * MS, 20_000_000)]
    after += [dial(1, 20 * MS), dial(2, 70 * MS)]
    tagged = tag_sweep([*events, resumed, *after])
    np.testing.assert_allclose(tagged.angle_deg, [-5, 10, 15])
    np.testing.assert_allclose(tagged.time_s, [0, 0, 0.05])
    assert tagged.interrupted == ("the daemon was restarted",)


def test_marks_after_a_restart_start_a_stretch_of_their_own() -> None:
    resumed = Resumed(inspection="i", time_ns=0, utc="2026-03-02T06:00:00.000Z")
    events = [
        begun(MARKS), mark(0, 0), mark(120, 1000), dial(0, 500 * MS), dial(1, 1900 * MS),
        resumed, mark(240, 2000), dial(0, 500 * MS), mark(360, 3000), dial(1, 2500 * MS),
    ]  # fmt: skip
    np.testing.assert_allclose(tag_sweep(events).angle_deg, [60, 300])


def test_readings_from_before_the_beginning_are_not_of_the_sweep() -> None:
    late = replace(begun(), time_ns=100 * MS)
    events = [late, crank(0, 0, 0), crank(1, 200 * MS, 2_000_000), dial(0, 50 * MS), dial(1, 150 * MS)]
    np.testing.assert_allclose(tag_sweep(events).angle_deg, [1.5])


def test_a_typed_sweep_keeps_its_angles_as_they_were_typed() -> None:
    typed = [
        TypedRunout(inspection="i", time_ns=n, angle_udeg=45_000_000 * n, value_nm=10 * n) for n in range(9)
    ]
    sweep = tag_sweep([begun(AngleStated(source="typed", mark_u_udeg=2_000_000)), *typed])
    np.testing.assert_allclose(sweep.angle_deg, np.arange(9) * 45)
    assert set(sweep.angle_u_deg) == {2.0}
    assert not sweep.time_s.any()


@pytest.mark.parametrize("events", [[], [dial(0, 0)], [replace(begun(), check="thickness")]])
def test_what_is_no_run_out_sweep_is_refused(events: list[Event]) -> None:
    with pytest.raises(FoldError):
        tag_sweep(events)


@pytest.mark.parametrize("source", [ENCODER, MARKS])
def test_a_sweep_without_readings_or_positions_is_empty(source: AngleStated) -> None:
    assert tag_sweep([begun(source)]).angle_deg.shape == (0,)
    assert tag_sweep([begun(source), dial(0, 5), dial(1, 6)]).angle_deg.shape == (0,)
