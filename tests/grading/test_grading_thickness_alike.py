"""Places of a casing that read the same, as one reading does that is sent again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from contract.gauge import GaugeFacts
from contract.result import ThicknessCheck
from grading.assess import judge
from grading.evidence import Thickness
from grading.thickness.alike import held
from tests.grading.samples import EXAMPLE, thickness

COARSE = GaugeFacts("caliper-1", 0.01, 0.02)
FREE = EXAMPLE.model_copy(update={"thickness": EXAMPLE.thickness.model_copy(update={"zero_mm": None})})


def check(*attempts: Thickness) -> ThicknessCheck:
    found = judge("thickness", attempts, FREE)
    assert isinstance(found, ThicknessCheck)
    return found


def outcome(values_mm: Sequence[float]) -> str:
    return check(thickness(values_mm)).outcome


def test_a_gauge_that_holds_its_reading_reads_no_casing() -> None:
    found = check(thickness([25.012] * 8))
    assert (found.outcome, found.spread_mm) == ("unclear", 0.0)
    assert found.reason.startswith("8 places one after the other read 25.012 mm, as no casing does")
    assert found.read_again is not None
    assert len(found.read_again) == 8


def test_nor_does_one_that_began_to_hold_it_on_the_way() -> None:
    assert outcome([25.012, 25.030, *[25.041] * 6]) == "unclear"
    assert outcome([25.012, 25.030, 25.021, 25.034, *[25.041] * 4]) == "within"


def test_a_place_that_reads_otherwise_the_next_time_was_read() -> None:
    again = thickness([25.013, 25.011, 25.012, 25.013, 25.012, 25.011, 25.013, 25.012])
    assert check(thickness([25.012] * 8), again).outcome == "within"
    assert check(thickness([25.012] * 8), thickness([25.012] * 8)).outcome == "unclear"


NEAR_MM = (25.233, 25.211, 25.102, 25.084, 25.001, 25.036, 25.117, 25.128)


def test_a_set_that_is_written_off_the_one_before_proves_nothing() -> None:
    """Near the limit a second set tells how readings repeat: one that was copied told that they repeat
    perfectly, and made the check within."""
    once = check(thickness(NEAR_MM))
    twice = check(*[thickness(NEAR_MM)] * 2)
    assert (once.outcome, twice.outcome) == ("unclear", "unclear")
    assert twice.u_expanded_mm == once.u_expanded_mm
    assert twice.warnings == (
        "a later attempt does not count: set 2 is to the last digit set 1, which no hand repeats: read every "
        "place again",
    )
    anew = thickness([mm + 0.001 * (n % 3) for n, mm in enumerate(NEAR_MM)])
    assert check(thickness(NEAR_MM), anew).outcome == "within"


def test_nor_does_it_outvote_what_was_over() -> None:
    over = thickness([25.31, *NEAR_MM[1:]])
    assert check(over, *[thickness(NEAR_MM)] * 4).outcome == "unclear"


def test_on_a_coarser_display_sets_may_be_the_same() -> None:
    same = [thickness(NEAR_MM, gauge=COARSE)] * 2
    assert all("last digit" not in one for one in check(*same).warnings)


def test_what_is_over_stays_over() -> None:
    assert outcome([25.512, 25.498, *[25.012] * 6]) == "over"


def test_on_a_coarser_display_a_warning_says_so() -> None:
    found = check(thickness([25.01] * 8, gauge=COARSE))
    assert found.outcome == "within"
    assert found.warnings[0].startswith("all places read 25.010 mm: see that the gauge does not hold")
    assert not check(thickness([25.01, *[25.02] * 7], gauge=COARSE)).warnings


@pytest.mark.parametrize("step_mm", [0.001, 0.00127, 0.002, 0.005])
def test_a_casing_flat_to_two_hundredths_is_not_taken_for_one(step_mm: float) -> None:
    """Of 1 000, whose places differ evenly within `alike_mm`, by the rule's own chance less than one."""
    rng = np.random.default_rng(5)
    gauge = replace(COARSE, resolution_mm=step_mm)
    asked = 0
    for values in rng.uniform(25, 25.02, (1000, 8)):
        read = thickness(np.rint(values / step_mm) * step_mm, gauge=gauge).readings
        asked += held(read, step_mm, EXAMPLE.thickness)[0] != ()
    assert asked <= 1
