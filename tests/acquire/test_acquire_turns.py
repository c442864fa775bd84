"""Tags of simulated turns by marks: honest in every part of the grid, and as small as measured."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.angle.between import by_time
from acquire.angle.covered import MARK_REACH_NS
from acquire.angle.presses import presses_of, tags_by_presses
from acquire.angle.tags import Tags
from tests.acquire.tagging import Cell, Score, cells, score, spell_of
from tests.acquire.turns import MARK_U_DEG, Turn, turn


def drawn_of(cell: Cell, seed: int, *, rough: bool = False) -> Turn:
    """One turn of a cell."""
    rng = np.random.default_rng([seed, round(1e6 * cell.tir_mm), cell.spacing_deg, round(cell.per_s)])
    return turn(rng, cell.marks_deg, cell.resolution_mm, cell.per_s, cell.tir_mm, rough=rough)


def tags(drawn: Turn) -> Tags:
    return tags_by_presses(MARK_U_DEG, 0.0, drawn.resolution_nm, spell_of(drawn))


def scored(drawn: Turn) -> Score:
    return score(drawn, lambda spell: tags_by_presses(MARK_U_DEG, 0.0, drawn.resolution_nm, spell))


@pytest.mark.slow
def test_a_tenth_of_the_study() -> None:
    """Three turns of each cell but the densest. Bounds allow for so few: a turn has some ten stops between
    its marks, and what is wrong with one of them is wrong for all its readings."""
    by: dict[tuple[int, float, bool], Score] = defaultdict(Score)
    for cell in cells((120, 30)):
        for seed in range(3 if cell.per_s < 50 else 0):
            key = cell.spacing_deg, cell.resolution_mm, cell.tir_mm < 0.1
            by[key].join(scored(drawn_of(cell, seed)))
    for found in by.values():
        assert 0.91 <= found.covered <= 0.985
    assert by[120, 0.001, False].rms_deg < 10
    assert by[120, 0.01, False].rms_deg < 15
    assert by[30, 0.001, False].rms_deg < 5
    assert by[30, 0.01, False].rms_deg < 7.5


@pytest.mark.slow
def test_a_rough_surface_makes_tags_little_less_honest() -> None:
    """It is flat at other places than an eccentric is, and steep at others."""
    by: dict[int, Score] = defaultdict(Score)
    for spacing in (120, 30):
        for seed in range(8):
            by[spacing].join(scored(drawn_of(Cell(spacing, 0.001, 0.3, 15), seed, rough=True)))
    assert by[120].covered > 0.87
    assert by[30].covered > 0.91


@pytest.fixture(scope="module")
def drawn() -> Turn:
    return turn(np.random.default_rng(5), (0.0, 120.0, 240.0), 0.001, 10, 0.2)


def test_the_readings_tell_when_the_crank_stood(drawn: Turn) -> None:
    """By time alone the pauses, from a second to an hour, would take most of the angle."""
    known = presses_of(spell_of(drawn))
    alone = score(drawn, lambda spell: by_time(spell.gauge, known, MARK_REACH_NS, MARK_U_DEG, 0.0))
    assert scored(drawn).rms_deg < 10 < 25 < alone.rms_deg


def any_turn(seed: int) -> Turn:
    """Marks each 120 or 30 degrees, a fine or a coarse gauge, any run-out."""
    rng = np.random.default_rng([seed, 17])
    marks = tuple(float(mark) for mark in range(0, 360, int(rng.choice([30, 120]))))
    return turn(rng, marks, float(rng.choice([0.001, 0.01])), 5, float(rng.uniform(0.05, 0.6)))


LAWS = settings(max_examples=12)


@pytest.mark.slow
@LAWS
@given(st.integers(0, 2**32), st.integers(-720, 720))
def test_another_origin_moves_every_angle_by_the_same(seed: int, by_deg: int) -> None:
    drawn = any_turn(seed)
    moved = replace(drawn, presses=tuple((ns, deg + by_deg) for ns, deg in drawn.presses))
    before, after = tags(drawn), tags(moved)
    known = before.known
    np.testing.assert_array_equal(after.known, known)
    np.testing.assert_allclose(after.angle_deg[known], before.angle_deg[known] + by_deg, atol=1e-6)
    np.testing.assert_allclose(after.u_deg, before.u_deg, atol=1e-6)


@pytest.mark.slow
@LAWS
@given(st.integers(0, 2**32))
def test_the_other_direction_mirrors(seed: int) -> None:
    drawn = any_turn(seed)
    back = replace(drawn, presses=tuple((ns, -deg) for ns, deg in drawn.presses))
    np.testing.assert_allclose(tags(back).angle_deg, -tags(drawn).angle_deg, atol=1e-6)
    np.testing.assert_allclose(tags(back).u_deg, tags(drawn).u_deg, atol=1e-6)


def test_an_hour_at_a_mark_changes_no_more_than_is_uncertain(drawn: Turn) -> None:
    """The pause at 120 degrees becomes an hour longer: readings as they were, and more between."""
    before, after, _ = drawn.stops[1]
    middle = (max(before, drawn.presses[1][0]) + after) // 2
    at = int(np.searchsorted(drawn.times_ns, middle))
    extra = np.arange(1, 36_000, dtype=np.int64) * 100_000_000
    hour = int(extra[-1])
    rest = drawn.value_nm[(drawn.times_ns > before + 200_000_000) & (drawn.times_ns < after - 200_000_000)]
    more = np.random.default_rng(1).choice(rest, extra.size)
    longer = Turn(
        times_ns=np.concatenate(
            [drawn.times_ns[:at], drawn.times_ns[at - 1] + extra, drawn.times_ns[at:] + hour]
        ),
        value_nm=np.insert(drawn.value_nm, at, more),
        true_deg=np.insert(drawn.true_deg, at, np.full(extra.size, drawn.true_deg[at])),
        presses=tuple((ns + hour * (ns > middle), deg) for ns, deg in drawn.presses),
        stops=(),
        resolution_nm=drawn.resolution_nm,
    )
    short, long = tags(drawn), tags(longer)
    kept = np.concatenate([np.arange(at), np.arange(at, drawn.times_ns.size) + extra.size])
    both = short.known & long.known[kept]
    apart = np.abs(long.angle_deg[kept] - short.angle_deg)[both]
    assert np.mean(apart <= 2 * short.u_deg[both]) > 0.99


def test_marks_told_to_and_fro_are_tagged_by_time_alone(drawn: Turn) -> None:
    told = [deg for _, deg in drawn.presses]
    mixed = [told[0], told[2], told[1], told[3]]
    to_and_fro = replace(
        drawn, presses=tuple((ns, d) for (ns, _), d in zip(drawn.presses, mixed, strict=True))
    )
    spell = spell_of(to_and_fro)
    alone = by_time(spell.gauge, presses_of(spell), MARK_REACH_NS, MARK_U_DEG, 0.0)
    np.testing.assert_array_equal(tags(to_and_fro).angle_deg, alone.angle_deg)


def test_a_gauge_that_sees_no_movement_leaves_every_place_between_two_marks_open(drawn: Turn) -> None:
    """Half a turn without a movement: held, or so coarse a gauge that nobody can say where it rested."""
    flat = drawn.true_deg < 200
    held = replace(drawn, value_nm=np.where(flat, drawn.value_nm[0], drawn.value_nm))
    found = tags(held)
    between = (drawn.true_deg > 5) & (drawn.true_deg < 115) & found.known
    assert found.u_deg[between].min() > 120 / 12**0.5
    assert found.stood_mm == pytest.approx(held.value_nm[0] / 1e6), "as high or as low as any"


def test_readings_that_stood_at_a_crest_are_told(drawn: Turn) -> None:
    crest = int(np.argmax(drawn.value_nm))
    stood = np.concatenate([np.arange(crest), np.full(30, crest), np.arange(crest, drawn.value_nm.size)])
    late = 30 * 100_000_000
    longer = replace(
        drawn,
        times_ns=np.concatenate(
            [
                drawn.times_ns[:crest],
                drawn.times_ns[crest] + np.arange(30, dtype=np.int64) * 100_000_000,
                drawn.times_ns[crest:] + late,
            ]
        ),
        value_nm=drawn.value_nm[stood],
        true_deg=drawn.true_deg[stood],
        presses=tuple((ns + late * (ns > drawn.times_ns[crest]), deg) for ns, deg in drawn.presses),
    )
    assert tags(longer).stood_mm is not None


REST_S = 3.0


def even(rests: int, *, held_deg: float = 0.0) -> Turn:
    """12 degrees a second, with so many rests; over so many degrees from 60 on the plunger is held."""
    at_deg = np.linspace(0.0, 360.0, rests + 2)[1:-1]
    knots_s, knots_deg, waited_s = [0.0], [0.0], 0.0
    for at in at_deg:
        knots_s += [at / 12 + waited_s, at / 12 + waited_s + REST_S]
        knots_deg += [at, at]
        waited_s += REST_S
    times_s = np.arange(0.0, 30.0 + waited_s, 0.1)
    true_deg = np.interp(times_s, [*knots_s, 30.0 + waited_s], [*knots_deg, 360.0])
    read_deg = np.where((true_deg > 60.0) & (true_deg < 60.0 + held_deg), 60.0, true_deg)
    value_nm = np.round(0.15 * np.cos(np.deg2rad(read_deg - 20.0)) / 0.01).astype(np.int64) * 10_000
    presses = tuple(
        (round(1e9 * float(np.interp(mark, true_deg, times_s))), mark) for mark in (0.0, 120.0, 240.0, 360.0)
    )
    return Turn(np.round(times_s * 1e9).astype(np.int64), value_nm, true_deg, presses, (), 10_000)


def test_many_rests_are_strokes_and_one_is_a_plunger_that_is_held() -> None:
    """Each for less than half of the time, so that time alone tells the angles."""
    assert tags(even(8)).runs_on
    assert not tags(even(0)).runs_on
    assert not tags(even(0, held_deg=60.0)).runs_on
    assert not tags(even(1)).runs_on
