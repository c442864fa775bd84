"""What decides whether a sweep counts stands in the method: it does decide, and none is left in the code."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

import grading
from config.runout import SweepRules
from config.signs import Signs
from grading.evidence import Sweep
from grading.signs.faults import disturbances
from grading.signs.jumps import find_jumps
from grading.signs.lone import find_lone
from grading.signs.prepared import prepare
from grading.signs.still import Still, core_of, find_still
from tests.grading.swept import COARSE, eccentric, swept, turn

HOW_IT_IS_REACHED = {
    "END_SHARE": "readings that are averaged at each end of a turn",
    "JUMPS_MAX": "steps that join the fit",
    "NEIGHBOURS": "readings in a line on either side of a step",
    "NOISE_LEAST_MM": "keeps what is divided by from being none",
    "ORDERS_LEAST": "of a fit",
    "ORDERS": "of a fit",
    "READINGS_PER_ORDER": "of a fit",
    "OWN_LEAST": "keeps what is divided by from being none",
    "ARCS": "arcs that are looked into, the longest first",
    "READINGS_MIN": "that make an arc at all",
    "PARTS": "means that are compared",
    "BENDS_MOST": "of a scatter, outliers cut off",
    "BLOCKS": "means that tell how far a surface goes",
    "PLACES": "of an arc that are asked",
    "DRAWS": "surfaces that are asked",
    "COARSER": "a display is taken for coarser, which only widens",
    "LEVELS_MIN": "a display is taken for coarser, which only widens",
    "CHANCE": "a display is taken for coarser, which only widens",
}
"""Numbers in the code of signs: how an answer is reached, not how much it takes."""


@pytest.mark.slow
def test_no_threshold_is_left_in_the_code() -> None:
    found = set()
    for path in (Path(grading.__file__).parent / "signs").glob("*.py"):
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.Assign) and not isinstance(node.value, ast.Constant | ast.Tuple):
                continue
            if isinstance(node, ast.Assign):
                values = node.value.elts if isinstance(node.value, ast.Tuple) else [node.value]
                if any(isinstance(v, ast.Constant) and isinstance(v.value, int | float) for v in values):
                    found |= {
                        name.id for t in node.targets for name in ast.walk(t) if isinstance(name, ast.Name)
                    }
    assert found == set(HOW_IT_IS_REACHED)


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


@pytest.mark.parametrize("asked", [{"seam_min": 1000}, {"seam_deg": 300.0}])
def test_how_much_must_be_passed_twice_is_the_methods(asked: dict[str, float]) -> None:
    angle = turn(600, 372.0)
    sweep = swept(eccentric(angle, 0.2) + 0.003 * (angle - 366.0) * (angle > 360.0), angle)

    def said(rules: SweepRules) -> str:
        return "; ".join(disturbances(prepare(sweep, rules), rules))

    assert "runs differently" in said(SweepRules())
    assert "runs differently" not in said(SweepRules(signs=Signs(**asked)))


def test_readings_that_say_nothing_of_contact_are_the_methods() -> None:
    angle = turn(60)
    sweep = swept(np.where(np.arange(60) % 2 > 0, 0.02, 0.0), angle, COARSE, noise_mm=0.0)

    def said(rules: SweepRules) -> str:
        return "; ".join(disturbances(prepare(sweep, rules), rules))

    assert "do not follow the crank" in said(SweepRules())
    assert "do not follow the crank" not in said(SweepRules(signs=Signs(followed_min=61)))
