"""A unit that was switched within a sweep, where no number tells it and none leapt."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from contract.gauge import GaugeFacts
from grading.evidence import Sweep
from tests.grading.swept import FINE, eccentric, judged, swept, turn
from tests.grading.switching import IN_INCHES, IN_MM, honest, switched

# To 0.0001 and to 0.001 in, shown by ones as 0.001 mm was; and from 0.0001 in to 0.001 mm.
TO_INCHES = (10 / 25.4, 1 / 25.4)
TO_MM = 2.54
# Sweeps of a heavy test.
SOME = 25


def at_nought(tir_mm: float, ratio: float, *, after_deg: float = 40.0, gauge: GaugeFacts = IN_MM) -> Sweep:
    """Set up at mid-height, and switched as it passes nought."""
    angle = turn()
    value = eccentric(angle, tir_mm)
    value -= 0.5 * (value.max() + value.min())
    crossing = np.flatnonzero((np.diff(np.sign(value)) != 0) & (angle[:-1] > after_deg))[0] + 1
    return swept(
        value * np.where(np.arange(angle.size) < crossing, 1.0, ratio), angle, gauge, noise_mm=0.0005
    )


@pytest.mark.slow
@pytest.mark.parametrize("ratio", TO_INCHES)
@pytest.mark.parametrize("after_deg", [10.0, 200.0])
def test_an_over_that_was_switched_to_inches_is_never_within(ratio: float, after_deg: float) -> None:
    check = judged(at_nought(0.33, ratio, after_deg=after_deg))
    assert check.outcome == "invalid"


@pytest.mark.slow
def test_one_that_is_seen_by_nothing_else_is_told_with_its_place_and_what_to_do() -> None:
    """Zeroed at its crest, and switched 15 degrees on: the numbers fall by three steps, and go on."""
    angle = turn()
    value = 0.16 * (np.cos(np.deg2rad(angle)) - 1.0)
    shown = value * np.where(angle < 15.0, 1.0, 10 / 25.4)
    sweep = swept(shown, angle, IN_MM, noise_mm=0.0004)
    check = judged(sweep)
    assert check.outcome in ("invalid", "unclear")
    assert "switched at 1" in check.reason
    assert "0.1 mm or more all around" in check.reason
    told = judged(replace(sweep, gauge=FINE))
    assert "switched" not in told.reason, "a gauge that says its unit is not asked"


@pytest.mark.slow
def test_one_that_was_switched_to_mm_is_seen_as_well() -> None:
    assert judged(at_nought(0.2, TO_MM, gauge=IN_INCHES)).outcome == "invalid"


@pytest.mark.slow
@pytest.mark.parametrize(("ratio", "is_said"), [(10 / 25.4, True), (1.0, False)])
def test_from_mark_to_mark_it_is_seen_as_well(ratio: float, is_said: bool) -> None:
    """Half a turn on, where it shows nought again, so that the ends of the turn meet."""
    angle = turn(600, 360.0)
    value = 0.155 * np.sin(np.deg2rad(angle)) * np.where(angle < 180.0, 1.0, ratio)
    sweep = swept(value, angle, IN_MM, noise_mm=0.0005)
    marked = np.mod(angle, 120.0) < 1.0
    check = judged(replace(sweep, angle_u_deg=np.where(marked, 0.5, 5.0), angles_run_on=True))
    assert ("switched at 1" in check.reason) is is_said, check.reason
    assert check.outcome != "within"


@pytest.mark.slow
@pytest.mark.parametrize("gauge", [IN_MM, IN_INCHES])
def test_sound_sweeps_of_such_a_gauge_are_left_alone(gauge: GaugeFacts) -> None:
    for tir_mm, after_deg in ((0.1, 10.0), (0.2, 40.0), (0.24, 200.0)):
        check = judged(at_nought(tir_mm, 1.0, after_deg=after_deg, gauge=gauge))
        assert check.outcome == "within", check.reason


@pytest.mark.slow
def test_what_stays_off_nought_would_have_leapt_and_only_a_switch_before_is_left_out() -> None:
    angle = turn(200)
    for zero_mm, is_said in ((0.0, True), (1.0, False)):
        sweep = swept(eccentric(angle, 0.1) + zero_mm, angle, IN_MM)
        (said,) = [one for one in judged(sweep).excluded or () if "their unit" in one]
        assert ("next to nought" in said) is is_said


@pytest.mark.heavy
@pytest.mark.parametrize("seed", [3, 5])
@pytest.mark.parametrize("ratio", TO_INCHES)
def test_a_switched_sweep_over_the_limit_is_never_within_once_the_surface_has_moved(
    ratio: float, seed: int
) -> None:
    """Of those that the drivers did not notice. Before it has moved nothing tells."""
    rng = np.random.default_rng(seed)
    ended: dict[bool, Counter[str]] = {True: Counter(), False: Counter()}
    for _ in range(SOME):
        drawn = switched(rng, rng.uniform(0.285, 0.36), ratio)
        ended[drawn.moved][judged(drawn.sweep).outcome] += 1
    print(ratio, ended)
    assert ended[True]["within"] == 0
    assert ended[True].total() > SOME / 2


@pytest.mark.heavy
@pytest.mark.parametrize("seed", range(8))
def test_sound_sweeps_of_such_a_gauge_are_not_doubted(seed: int) -> None:
    rng = np.random.default_rng(seed)
    said = [judged(honest(rng, rng.uniform(0.05, 0.26))).reason for _ in range(SOME)]
    assert not [one for one in said if "switched" in one]
