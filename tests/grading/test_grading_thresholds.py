"""What decides whether a sweep counts stands in the method: it does decide, and none is left in the code."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

import grading
from config.runout import SurfaceRules, SweepRules
from config.signs import Coarser, Signs
from grading.evidence import Sweep
from grading.runout.cut import cut_faults
from grading.signs.contact import follows_unsure
from grading.signs.faults import disturbances
from grading.signs.jumps import find_jumps
from grading.signs.lone import find_lone
from grading.signs.prepared import prepare
from grading.signs.steps import coarser_step_mm
from grading.signs.still import Still, core_of, find_still
from tests.grading.swept import COARSE, eccentric, swept, turn

HOW_IT_IS_REACHED = {
    "signs": {
        "END_SHARE": "readings that are averaged at each end of a turn",
        "JUMPS_MAX": "steps that join the fit",
        "NEIGHBOURS": "readings in a line on either side of a step",
        "NOISE_LEAST_MM": "keeps what is divided by from being none",
        "ORDERS_FEW": "of a fit",
        "ORDERS_LEAST": "of a fit",
        "ORDERS": "of a fit",
        "READINGS_PER_ORDER": "of a fit",
        "OWN_LEAST": "keeps what is divided by from being none",
        "AT_ENDS": "readings by whose median the level at an end of an arc is told",
        "ARCS": "arcs that are looked into, the longest first",
        "PARTS": "means that are compared",
        "BENDS_MOST": "of a scatter, outliers cut off",
        "BLOCKS": "means that tell how far a surface goes",
        "PLACES": "of an arc that are asked",
        "DRAWS": "surfaces that are asked",
    },
    "kinds": {
        "SEED": "of random numbers",
        "ATTEMPTS_MAX": "attempts that a result lists",
        "AMPLITUDE_MIN_MM": "harmonics that a result lists",
    },
    "runout": {
        "WIDTHS": "of a spectrum",
        "UNKNOWN_SHARE": "of an estimate",
        "SHORTEST": "waves that are looked for",
        "ORDERS_MOST": "waves that are looked for",
        "LINES_MAX": "of a spectrum",
        "EXPONENT_MAX": "keeps a power from overflowing",
        "TURN_EVERY_DEG": "turns that are looked at",
        "LONGEST": "which waves a rough surface follows",
        "FREQUENCIES_MIN": "of a spectrum",
        "FINER": "places between readings",
        "CENTRES": "of a spectrum",
        "BANDS_MAX": "of a spectrum",
        "ANGLE_POOR_DEG": "a warning about the high spot",
        "APART": "more than there are",
        "AT_MARK": "which readings are those at a mark",
        "BIN_DEG": "readings that are looked at",
        "BOUND_U": "of a weight",
        "CLOSE_DEG": "readings that are gathered",
        "CREEPS_MM": "of a family of noises",
        "DOF": "of an estimate",
        "DRAWS": "surfaces that are drawn",
        "ENDS": "values that are tried",
        "FEATURE_FROM": "which fit is held against which",
        "GROUPS_MAX": "readings that are gathered",
        "HALF": "half a turn",
        "INCH_STEP_MM": "half a thousandth of an inch is whole multiples of it",
        "JITTER": "keeps what is divided by from being none",
        "KEEP_FROM": "members of a family that are drawn from",
        "KEEP_MAX": "the same",
        "LAGS": "of a sum",
        "LAGS_MAX": "of a sum",
        "LEFT_MIN": "draws that make a weight",
        "LENGTHS_DEG": "of a family of surfaces",
        "LOW_ORDERS": "of a fit",
        "LOW_WIDER": "of a fit",
        "MARKS_MIN": "of an estimate",
        "MEMORIES": "of a family of noises",
        "NEAR": "moments that are tried",
        "NO_CORRELATION": "where a sum ends",
        "PLACES": "places that are asked",
        "PLACES_MAX": "means that are compared",
        "PLACES_MIN": "of an estimate",
        "PLACE_DEG": "of an estimate",
        "READINGS_EACH": "means that are compared",
        "READINGS_MIN": "below it nothing can be fitted; the method asks for no fewer",
        "REPORT_FROM": "dents that a result lists",
        "SEEN_FROM": "harmonics that a result lists",
        "ROUNDED_MM2": "rounding of a variance",
        "SIZES_MM": "of a family of surfaces",
        "SMOOTHING": "of draws",
        "SMOOTH_DEG": "of a family of surfaces",
        "SMOOTH_MM": "the same",
        "SPREAD_MIN_MM": "keeps what is divided by from being none",
        "STEPS_PER_LIMIT": "what is said in `excluded`",
        "TRIED": "moments and places that are tried",
        "TWO_TURNS_DEG": "what two turns are",
        "WHOLE": "rounding of a float",
        "WHOLE_DEG": "what a whole turn is",
    },
    "decision": {"NEARLY": "a quantile of a rectangular figure", "REPEATS_MAX": "advice to repeat"},
    "observed": {},
    "thickness": {
        "CHUNKS": "classes of noise",
        "DRAWS": "casings that are drawn",
        "GRID": "of an integral",
        "MEANS": "of an integral",
        "STEPS": "of an integral",
        "REACH": "of an integral",
        "NM_PER_MM": "a unit",
        "PHASES": "truths that are tried",
        "RANDOM_EACH": "random numbers for each draw",
        "TIED": "places that may be equal: of an estimate",
    },
}
"""Numbers in the code of these rooms: how an answer is reached, not how much it takes."""


@pytest.mark.slow
@pytest.mark.parametrize("room", HOW_IT_IS_REACHED)
def test_no_threshold_is_left_in_the_code(room: str) -> None:
    found = set()
    for path in (Path(grading.__file__).parent / room).glob("*.py"):
        for node in ast.parse(path.read_text()).body:
            if not isinstance(node, ast.Assign):
                continue
            values = node.value.elts if isinstance(node.value, ast.Tuple) else [node.value]
            if any(isinstance(v, ast.Constant) and isinstance(v.value, int | float) for v in values):
                found |= {name.id for t in node.targets for name in ast.walk(t) if isinstance(name, ast.Name)}
    assert found == set(HOW_IT_IS_REACHED[room])


def _held(noise_mm: float = 0.0) -> Sweep:
    """0.31 that stands still at 0.24, of which the last readings move up by a step of the display."""
    angle = turn()
    value = eccentric(angle, 0.31)
    return swept(np.minimum(value, value.min() + 0.24), angle, noise_mm=noise_mm)


def test_how_much_a_level_must_change_to_cut_an_arc_is_the_methods() -> None:
    angle = np.arange(0.0, 366.0)
    value = np.where(angle < 130.0, 0.10, 0.11)
    sweep = swept(value, angle, COARSE, noise_mm=0.0)
    arc = Still(100.0, 180.0, 0.1, False, False)
    cut, whole = core_of(sweep, arc, Signs()), core_of(sweep, arc, Signs(held_change_u=1e6))
    assert cut is not None
    assert whole is not None
    assert (cut.from_deg, whole.from_deg) == (130.0, 100.0)


def test_how_many_flickers_say_that_an_arc_was_held_is_the_methods() -> None:
    angle = np.arange(0.0, 366.0)
    flickers = swept(np.where(angle % 2 > 0, 0.10, 0.11), angle, COARSE, noise_mm=0.0)
    arc = Still(100.0, 120.0, 0.1, False, False)
    assert core_of(flickers, arc, Signs(held_flicker_min=8)) is not None
    assert core_of(flickers, arc, Signs(held_flicker_min=30)) is None


@pytest.mark.slow
@pytest.mark.parametrize(
    "asked",
    [{"still_pass": 1e4}, {"hidden_noise_mm": 1.0}, {"still_narrow": 0.0001, "still_wide": 0.0001}],
)
def test_what_passes_an_arc_that_stands_is_the_methods(asked: dict[str, float]) -> None:
    sweep = _held(noise_mm=0.0012)
    assert find_still(sweep, SweepRules(), running=False)
    assert not find_still(sweep, SweepRules(signs=Signs(**{"held_chance": 1e-300, **asked})), running=False)


def test_neighbours_of_a_jump_span_what_the_method_says() -> None:
    angle = turn(120)
    sweep = swept(eccentric(angle, 0.2) + np.where(angle > 200.0, 0.05, 0.0), angle)
    assert find_jumps(sweep, Signs())
    assert not find_jumps(sweep, Signs(jump_near_deg=20.0))


def test_what_may_be_a_knock_is_the_methods() -> None:
    angle = turn(720)
    sweep = swept(eccentric(angle, 0.2) + np.where((angle > 200.0) & (angle < 206.0), 0.05, 0.0), angle)
    assert len(find_jumps(sweep, Signs())) == 2
    assert not find_jumps(sweep, Signs(knock_readings=20))
    assert not find_jumps(sweep, Signs(knock_share=0.999))


def test_when_readings_are_few_is_the_methods() -> None:
    angle = turn(90)
    value = eccentric(angle, 0.2)
    value[40] += 0.03
    sweep = swept(value, angle)
    assert find_lone(sweep, SweepRules()).doubtful.tolist() == [40]
    strict = SweepRules(signs=Signs(lone_lines=100.0))
    assert find_lone(sweep, strict).doubtful.size == 0
    few = find_lone(sweep, SweepRules(signs=Signs(lone_lines=100.0, lone_sparse_below=100)))
    assert few.doubtful.tolist() == [40]


def test_how_much_wider_than_told_a_dent_may_be_between_marks_is_the_methods() -> None:
    """0.8 degrees from neighbour to neighbour as told, and up to 2 as the crank may have gone."""
    angle = turn(900)
    value = eccentric(angle, 0.2)
    value[400] -= 0.1
    sweep = swept(value, angle)
    assert find_lone(sweep, SweepRules()).spikes.tolist() == [400]
    assert find_lone(sweep, SweepRules(), running=True).doubtful.tolist() == [400]
    steady = SweepRules(signs=Signs(lone_hurry=1.0))
    assert find_lone(sweep, steady, running=True).spikes.tolist() == [400]


@pytest.mark.parametrize("asked", [{"seam_min": 1000}, {"seam_deg": 300.0}])
def test_how_much_must_be_passed_twice_is_the_methods(asked: dict[str, float]) -> None:
    angle = turn(600, 372.0)
    sweep = swept(eccentric(angle, 0.2) + 0.003 * (angle - 366.0) * (angle > 360.0), angle)

    def said(rules: SweepRules) -> str:
        return "; ".join(disturbances(prepare(sweep, rules), rules))

    assert "runs differently" in said(SweepRules())
    assert "runs differently" not in said(SweepRules(signs=Signs(**asked)))


def test_readings_that_say_nothing_of_contact_are_the_methods() -> None:
    """Four waves of 0.05 mm at 40 stops, and three at 20."""
    waves = 0.025 * np.cos(np.deg2rad(4 * turn(40)))
    four = swept(waves, turn(40), COARSE, noise_mm=0.0)

    def said(rules: SweepRules) -> str:
        return "; ".join(disturbances(prepare(four, rules), rules))

    assert "do not follow the crank" not in said(SweepRules())
    assert "do not follow the crank" in said(SweepRules(signs=Signs(followed_min=41)))
    three = swept(0.025 * np.cos(np.deg2rad(3 * turn(20))), turn(20), COARSE, noise_mm=0.0)
    assert follows_unsure(three, SweepRules()) == []
    assert follows_unsure(three, SweepRules(signs=Signs(few_followed_maybe=0.99)))


def test_when_a_plain_dial_stood_at_the_end_of_its_travel_is_the_methods() -> None:
    """0.34 mm at 18 stops, of which a dial shows no more than 0.20."""
    angle = np.arange(0.0, 360.0, 20.0)
    shown = np.maximum(0.17 * np.cos(np.deg2rad(angle - 40.0)), -0.03)
    sweep = swept(shown - shown.min(), angle, COARSE, noise_mm=0.0)

    def said(**asked: float) -> list[str]:
        return cut_faults(sweep, SurfaceRules(limit_mm=0.28, sweep=SweepRules(signs=Signs(**asked))))

    assert "end of the gauge's travel" in "".join(said())
    for asked in ("cut_min", "cut_rest_min", "cut_beyond", "cut_two_waves"):
        assert not said(**{asked: 100})
    assert not said(cut_rest_most=5)


def test_when_a_display_moves_in_coarser_steps_is_the_methods() -> None:
    value_nm = np.rint(np.repeat([0.0, 0.05, 0.10, 0.05], 6) * 1e6).astype(np.int64)
    assert coarser_step_mm(value_nm, 0.01, Coarser(chance=0.01)) == 0.05
    for asked in (Coarser(), Coarser(levels=4, chance=0.01), Coarser(times=6.0, chance=0.01)):
        assert coarser_step_mm(value_nm, 0.01, asked) is None
