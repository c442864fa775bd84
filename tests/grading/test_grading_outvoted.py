"""Measured again until it fits: what many repeats, or another gauge, may set aside and what not."""

from __future__ import annotations

import pytest

from contract.gauge import GaugeFacts
from contract.result import SurfaceCheck
from tests.grading.swept import COARSE, FINE, eccentric, judged, swept, turn

pytestmark = pytest.mark.slow

ANOTHER = GaugeFacts("indicator-2", 0.001, 0.004)


def outcome(*read: tuple[float, GaugeFacts]) -> SurfaceCheck:
    """Of sweeps of these TIRs by these gauges."""
    angle = turn()
    return judged(*(swept(eccentric(angle, tir_mm), angle, gauge) for tir_mm, gauge in read))


def test_what_is_over_is_not_forgotten_for_being_long_ago() -> None:
    """Five over, then as many within as the method takes together: they outnumber none three to one."""
    check = outcome(*[(0.35, FINE)] * 5, *[(0.15, FINE)] * 8)
    assert check.outcome == "unclear", check.reason
    assert "the sweeps disagree" in (check.reason or "")


def test_the_latest_of_many_that_agree_are_taken_together() -> None:
    check = outcome(*[(0.15, FINE)] * 10)
    assert (check.outcome, check.sweeps) == ("within", 8)


@pytest.mark.parametrize("others", [(0.15, ANOTHER), (0.15, COARSE)])
def test_another_gauge_alone_never_sets_aside_what_is_over(others: tuple[float, GaugeFacts]) -> None:
    check = outcome((0.35, FINE), *[others] * 4)
    assert check.outcome == "unclear", check.reason
    assert "sweep 1 with indicator-1 is over by itself" in (check.reason or "")
    settled = outcome((0.35, FINE), *[others] * 4, (0.15, FINE))
    assert settled.outcome == "within", settled.reason
