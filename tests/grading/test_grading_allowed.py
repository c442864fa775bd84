"""What moves a gauge and leaves no trace in one turn: allowed for where the method asks, named where not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from grading.kinds.surfaces import judge_surface
from tests.grading.samples import DATA, method
from tests.grading.swept import FINE, eccentric, swept, turn

ALLOWANCES = {
    "main_bearing_mm": ("crank shifting in its main bearings", "a crank that shifts in its main bearings"),
    "hysteresis_mm": ("gauge's hysteresis", "the gauge's hysteresis on reversal"),
    "temperature_mm": ("temperature over the sweep", "temperature over the sweep"),
}


@pytest.mark.slow
@pytest.mark.parametrize("key", ALLOWANCES)
def test_an_allowance_is_in_the_budget_or_named_as_left_out(key: str) -> None:
    """Rectangular: half-width over root 3 (JCGM 100:2008, 4.3.7), added in quadrature to all else."""
    in_budget, left_out = ALLOWANCES[key]
    angle = turn(200)
    sweep = swept(eccentric(angle, 0.2), angle)
    plain, allowed = (
        judge_surface("rim", [sweep], method(rim={**DATA["rim"], "allow": {key: half_mm}}))
        for half_mm in (0.0, 0.03)
    )
    assert any(said.startswith(left_out) for said in plain.excluded or ())
    assert not any(said.startswith(left_out) for said in allowed.excluded or ())
    assert not any(line.source.startswith(in_budget) for line in plain.budget or ())
    (line,) = [line for line in allowed.budget or () if line.source.startswith(in_budget)]
    assert line.u_mm == pytest.approx(0.03 / 3**0.5, rel=1e-3)
    assert plain.u_expanded_mm is not None
    assert allowed.u_expanded_mm is not None
    assert allowed.u_expanded_mm > 1.9 * line.u_mm > 2 * plain.u_expanded_mm


@pytest.mark.slow
def test_a_crank_that_may_shift_so_far_makes_it_unclear() -> None:
    angle = turn(200)
    sweep = swept(eccentric(angle, 0.26), angle)
    outcomes = [
        judge_surface("rim", [sweep], method(rim={**DATA["rim"], "allow": {"main_bearing_mm": mm}})).outcome
        for mm in (0.0, 0.03)
    ]
    assert outcomes == ["within", "unclear"]


@pytest.mark.parametrize("hidden", [True, False])
def test_a_unit_that_no_frame_tells_is_named_as_left_out(hidden: bool) -> None:
    angle = turn(200)
    sweep = swept(eccentric(angle, 0.1), angle, replace(FINE, unit_hidden=hidden))
    said = judge_surface("rim", [sweep], method()).excluded or ()
    assert any("its numbers do not say their unit" in one for one in said) is hidden
