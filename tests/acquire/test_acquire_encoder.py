"""An encoder's tags: how well they know the angle, where it lost counts, how late the gauge is; laws."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.angle.tagger import tag_sweep
from acquire.journal.events import (
    AngleStated,
    Event,
    GaugeAway,
    GaugeBack,
    IndexPassed,
    Sample,
    SweepBegun,
)
from config.files import shipped
from config.profile import GaugeProfile
from config.toml import read_toml
from contract.gauge import GaugeFacts
from contract.units import Unit
from drivers.assembly import Assembler
from drivers.capture import written
from drivers.encoding import encode
from drivers.reading import Reading
from grading.evidence import F64, Sweep
from tests.acquire.encoder_turns import Cell, Heard, heard, rows_of, told
from tests.acquire.kept_turn import FOLDER, LOST, made, tagged

FINE = Cell(0.1, 0.02, 0.0014)
SEEDS = st.integers(0, 500)
MS = 1_000_000


def changed(turn: Heard, **angle: object) -> list[Event]:
    """Its events with another encoder stated."""
    begun = turn.events[0]
    assert isinstance(begun, SweepBegun)
    # Keywords of several types.
    return [replace(begun, angle=replace(begun.angle, **angle)), *turn.events[1:]]  # type: ignore[arg-type]


def with_values(turn: Heard, made: object) -> list[Event]:
    """Its events with another value of each frame."""
    return [
        # Each is made with its own.
        replace(e, value=made(e.value)) if isinstance(e, Sample) and e.gauge == "e" else e  # type: ignore[operator]
        for e in turn.events
    ]


def same(one: Sweep, other: Sweep) -> None:
    np.testing.assert_allclose(other.angle_deg, one.angle_deg, atol=1e-7)
    np.testing.assert_allclose(other.angle_u_deg, one.angle_u_deg, atol=1e-7)


# -- how well


@pytest.mark.slow
def test_an_angle_lies_within_twice_its_uncertainty_as_often_as_is_said_in_every_cell() -> None:
    """A tenth of the study; `python -m tests.benchmarks.angle_encoder` is the whole."""
    rows = rows_of(240, seed=10_000)
    assert len(rows) == 24 + 2 * 4 + 2 * 2 + 2 * 4
    assert not [row for row in rows if not row.is_honest]
    by_name = {row.name: row for row in rows}
    for each_ms in (10, 20):
        degree = by_name[f"step 1, each {each_ms} ms, late by 1.4 ms"]
        assert degree.moving_deg <= 0.2
        # Standing, any place within its step shows the same value: rectangular, and nothing else tells.
        assert degree.standing_deg == pytest.approx(1 / 12**0.5, rel=0.1)
    assert by_name["step 0.1, each 20 ms, late by 1.4 ms"].rms_deg <= 0.05


# -- laws


@settings(max_examples=5, deadline=None)
@given(SEEDS, st.integers(0, 3599))
def test_another_origin_turns_every_angle_by_the_same(seed: int, shift: int) -> None:
    turn = heard(seed, FINE)
    one, other = tag_sweep(turn.events), tag_sweep(with_values(turn, lambda value: (value + shift) % 3600))
    turned = (other.angle_deg - one.angle_deg - shift / 10 + 180) % 360 - 180
    np.testing.assert_allclose(turned, 0, atol=1e-6)
    np.testing.assert_allclose(other.angle_u_deg, one.angle_u_deg, atol=1e-7)


@settings(max_examples=5, deadline=None)
@given(SEEDS)
def test_the_other_direction_mirrors(seed: int) -> None:
    turn = heard(seed, FINE)
    one, other = tag_sweep(turn.events), tag_sweep(changed(turn, reversed=True))
    same(replace(one, angle_deg=-one.angle_deg), other)
    mirrored = with_values(turn, lambda value: -value)
    np.testing.assert_allclose(np.diff(tag_sweep(mirrored).angle_deg), np.diff(other.angle_deg), atol=1e-7)


@settings(max_examples=5, deadline=None)
@given(SEEDS, st.floats(1.0, 3600.0))
def test_a_pause_while_the_crank_stands_changes_nothing(seed: int, pause_s: float) -> None:
    turn = heard(seed, FINE)
    # The crank stands for a second before it is barred at all.
    cut_ns, pause_ns = 10_500_000_000, round(pause_s * 1e9)
    frames = [e for e in turn.events if isinstance(e, Sample) and e.gauge == "e" and e.time_ns <= cut_ns]
    longer: list[Event] = [
        replace(e, time_ns=e.time_ns + (pause_ns if e.time_ns > cut_ns else 0))
        if isinstance(e, Sample) else e
        for e in turn.events
    ]  # fmt: skip
    among = [replace(frames[-1], time_ns=cut_ns + 1 + n * pause_ns // 20, reading=-1 - n) for n in range(20)]
    same(tag_sweep(turn.events), tag_sweep([*longer, *among]))


@settings(max_examples=4, deadline=None)
@given(st.randoms(use_true_random=False))
def test_bytes_split_in_other_places_give_the_same_angles(rng: random.Random) -> None:
    counts, gauge = profile("encoder-counts"), profile("line-mm")
    times, deg = np.arange(0, 2_000, 20), np.cumsum(np.linspace(0, 1.0, 100))

    def tagged(cut: bool) -> Sweep:
        events: list[Event] = [begun(AngleStated(source="encoder", gauge="e", unit=Unit.COUNT, per_turn=360))]
        for name, kept, values in (("e", counts, deg), ("g", gauge, deg * 1_000)):
            assembler = Assembler(name, kept)
            assembler.feed(b"\r\n", 0)  # the rest of a frame that began before
            for time, value in zip(times.tolist(), values.tolist(), strict=True):
                frame, at = encode(round(value), kept), 0
                cuts = sorted(rng.sample(range(1, len(frame)), 3)) if cut else []
                for place in [*cuts, len(frame)]:
                    came_ns = (time + (0 if place == len(frame) else -1)) * MS + 10**9
                    events += map(sampled, assembler.feed(frame[at:place], came_ns))
                    at = place
        return tag_sweep(events)

    whole = tagged(cut=False)
    assert whole.angle_deg.size == 100
    same(whole, tagged(cut=True))


def sampled(r: Reading) -> Sample:
    return Sample(inspection="i", time_ns=r.time_ns, gauge=r.gauge, reading=r.seq, value=r.value, unit=r.unit)


def profile(name: str) -> GaugeProfile:
    return read_toml(shipped("gauges", name), GaugeProfile)


def begun(angle: AngleStated, latency_u_ns: int = 0) -> SweepBegun:
    gauge = GaugeFacts("g", 0.001, 0.004, latency_u_ns=latency_u_ns)
    return SweepBegun(inspection="i", time_ns=0, check="rim", gauge=gauge, angle=angle)


def test_no_reading_from_before_the_first_frame_or_after_the_last_has_an_angle() -> None:
    turn = heard(3, FINE, late_s=0.0)
    first, last = turn.framed_ns[[0, -1]]
    beyond = [
        Sample(inspection="i", time_ns=int(t), gauge="g", reading=10_000 + n, value=0, unit=Unit.NM)
        for n, t in enumerate((first - 1, first, last, last + 1))
    ]
    inside = int(((turn.came_ns >= first) & (turn.came_ns <= last)).sum())
    assert tag_sweep([*turn.events, *beyond]).angle_deg.size == inside + 2


# -- a counter that begins anew, and one that loses counts


def frames(deg: F64, *, period_ms: int = 20, step_deg: float = 0.1) -> list[Event]:
    """Of an encoder at these angles, one every 20 ms, and a reading of the gauge with each."""
    made: list[Event] = []
    for n, value in enumerate(np.round(deg / step_deg).astype(int).tolist()):
        common = {"inspection": "i", "time_ns": n * period_ms * MS, "reading": n}
        # Keywords of several types.
        made.append(Sample(**common, gauge="e", value=value, unit=Unit.COUNT))  # type: ignore[arg-type]
        made.append(Sample(**common, gauge="g", value=n % 7, unit=Unit.NM))  # type: ignore[arg-type]
    return made


def stated(**more: object) -> SweepBegun:
    # Keywords of several types.
    return begun(AngleStated(source="encoder", gauge="e", unit=Unit.COUNT, per_turn=3600, **more))  # type: ignore[arg-type]


TURNING = np.cumsum(0.5 + 0.2 * np.sin(np.arange(1_600)))


def test_a_counter_of_16_bits_that_is_full_begins_anew() -> None:
    events = [
        replace(e, value=(e.value + 65_000) % 65_536) if isinstance(e, Sample) and e.gauge == "e" else e
        for e in frames(TURNING)
    ]
    right, wrong = tag_sweep([stated(modulus=65_536), *events]), tag_sweep([stated(), *events])
    np.testing.assert_allclose(right.angle_deg - right.angle_deg[0], TURNING - TURNING[0], atol=0.11)
    assert np.abs(wrong.angle_deg - wrong.angle_deg[0] - TURNING).max() > 10


def indexed(deg: F64, shown: F64, every_deg: float = 360.0, at_deg: float = 100.0) -> list[Event]:
    """Frames that show other angles than there are; the index comes where it truly does."""
    events = frames(shown)
    passed = np.flatnonzero(np.diff(np.floor((deg - at_deg) / every_deg)) != 0) + 1
    return events + [
        IndexPassed(inspection="i", time_ns=int(n) * 20 * MS, gauge="e") for n in passed.tolist()
    ]


@pytest.mark.parametrize("lost_deg", [3.0, -8.0, 40.0])
@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_counts_that_were_lost_are_seen_at_the_index_put_back_and_told(lost_deg: float, sense: float) -> None:
    deg = sense * TURNING
    shown = deg - lost_deg * (TURNING > 300)
    sweep = tag_sweep([stated(), *indexed(deg, shown)])
    (slip,) = sweep.slips
    assert abs(slip.lost_deg) == pytest.approx(abs(lost_deg), abs=0.4)
    assert slip.give_deg < 1.0  # what passes from frame to frame, half of it at each
    assert slip.since_deg % 360 == pytest.approx(100, abs=1)
    assert slip.until_deg - slip.since_deg == pytest.approx(sense * 360, abs=1)
    off = sweep.angle_deg - deg
    off -= 360 * np.round(off[0] / 360)
    u = sweep.angle_u_deg
    assert np.abs(off[TURNING < 100]).max() < 0.1
    assert np.abs(off[TURNING > 625]).max() < 0.5
    between = (TURNING > 100) & (TURNING < 460)
    # Nobody knows where it was lost: any place of the turn between is as likely.
    assert u[between].max() == pytest.approx(abs(lost_deg) / 2, rel=0.15)
    assert np.mean(np.abs(off) <= 2 * u) > 0.9


def test_an_index_that_comes_where_it_should_changes_nothing() -> None:
    events = indexed(TURNING, TURNING)
    one, other = tag_sweep([stated(), *events]), tag_sweep([stated(), *frames(TURNING)])
    same(one, other)
    assert one.slips == ()


def test_with_gears_the_index_comes_in_each_turn_of_the_encoder() -> None:
    deg = TURNING[TURNING < 400]
    shown = 9.5 * deg - 20.0 * (deg > 205)
    events = indexed(deg, shown, every_deg=360 / 9.5, at_deg=10.0)
    sweep = tag_sweep([stated(gear=9.5), *events])
    (slip,) = sweep.slips
    assert slip.lost_deg == pytest.approx(-20 / 9.5, abs=slip.give_deg)
    assert slip.until_deg - slip.since_deg == pytest.approx(360 / 9.5, abs=2)


def test_an_encoder_that_counts_anew_after_it_was_away_is_anchored_at_its_index() -> None:
    deg = np.concatenate([TURNING[TURNING < 300], TURNING[TURNING >= 330]])
    away, back = int((TURNING < 300).sum()), int((TURNING < 300).sum()) + 1
    shown = np.where(deg < 300, deg, deg - 330.0)
    gone = [
        GaugeAway(inspection="i", time_ns=away * 20 * MS - MS, gauge="e", reason="unplugged"),
        GaugeBack(inspection="i", time_ns=back * 20 * MS - MS, gauge="e"),
    ]
    sweep = tag_sweep([stated(), *indexed(deg, shown), *gone])
    off = (sweep.angle_deg - deg[-sweep.angle_deg.size :])[-400:]
    assert np.abs((off + 180) % 360 - 180).max() < 0.6
    assert sweep.slips == ()


# -- how late the gauge is


def test_readings_that_come_later_than_stated_say_so_and_are_tagged_by_it() -> None:
    for seed in (4, 5, 6):
        turn = heard(seed, FINE, late_s=0.06)
        rate, _, tir_mm = turn.gauge
        if rate < 10 or tir_mm < 0.3:
            continue
        sweep = tag_sweep(turn.events)
        assert sweep.delay is not None
        assert sweep.delay.contradicts
        assert abs(sweep.delay.later_s - 0.06) < 4 * sweep.delay.u_s
        assert told(turn).held > 0.85


@pytest.mark.parametrize("seed", range(6))
def test_where_the_readings_tell_less_than_is_stated_nothing_is_changed(seed: int) -> None:
    turn = heard(seed, Cell(0.1, 0.02, 0.0001), late_s=0.0)
    assert tag_sweep(turn.events).delay is None


def test_an_even_crank_that_goes_one_way_tells_nothing_of_how_late_the_gauge_is() -> None:
    value = np.round(100_000 * np.cos(np.deg2rad(TURNING))).astype(int)
    events = [
        replace(e, value=int(value[e.reading])) if isinstance(e, Sample) and e.gauge == "g" else e
        for e in frames(TURNING)
    ]
    first = stated()
    late = replace(first, gauge=replace(first.gauge, latency_u_ns=50 * MS))
    assert tag_sweep([late, *events]).delay is None


# -- captures with golden tags


def test_a_kept_turn_gives_the_tags_that_it_gave() -> None:
    """`python -m tests.acquire.kept_turn` makes it anew."""
    kept = np.loadtxt(FOLDER / "turn.tags")
    sweep = tagged()
    for column, found in ((0, sweep.time_s * 1e3), (1, sweep.angle_deg), (2, sweep.angle_u_deg)):
        np.testing.assert_allclose(found, kept[:, column], atol=0.51 if column == 0 else 0.00051)
    off, u = kept[:, 1] - kept[:, 3], kept[:, 2]
    off -= np.median(off[:100])  # its first frame tells whole turns and no more
    assert np.mean(np.abs(off) <= 2 * u) > 0.9
    (slip,) = sweep.slips
    assert slip.lost_deg == pytest.approx(-LOST / 10, abs=slip.give_deg)


def test_the_kept_turn_is_that_which_the_simulators_make() -> None:
    captures, _ = made()
    for name, capture in captures.items():
        assert (FOLDER / f"{name}.cap").read_text() == written(capture)


@pytest.mark.parametrize("amiss", ["slip", "dent"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_moved_the_gauge_beside_the_surface_is_not_taken_for_a_delay(amiss: str, seed: int) -> None:
    turn = heard(seed, FINE, late_s=0.0)
    off_nm = (
        50_000 * (turn.came_ns > np.median(turn.came_ns))
        if amiss == "slip"
        else -50_000 * (np.abs((turn.true_deg - 100.0 + 180.0) % 360.0 - 180.0) < 4.0)
    )
    events = [
        replace(e, value=e.value + int(off_nm[e.reading])) if isinstance(e, Sample) and e.gauge == "g" else e
        for e in turn.events
    ]
    assert tag_sweep(events).delay is None
