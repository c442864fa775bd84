"""A display that shows coarser steps than its gauge is stated to have."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.signs import Coarser
from contract.gauge import GaugeFacts
from grading.evidence import Sweep
from grading.kinds.surfaces import judge_surface
from grading.signs.steps import as_shown, coarser_warnings
from grading.signs.still import _reach_back
from tests.grading.samples import EXAMPLE, offset_circle, sweep

DIAL = GaugeFacts("dial-2", 0.01, 0.004)


def rounded(tir_mm: float, to_mm: float, start_mm: float) -> Sweep:
    """A dial of hundredths, read to its numbered marks at 60 places."""
    angle = np.linspace(0.0, 366.0, 60)
    noise = np.random.default_rng(2).normal(0.0, 0.0005, 60)
    value = np.rint((start_mm + offset_circle(angle, tir_mm / 2, 41.0) + noise) / to_mm) * to_mm
    return Sweep("rim", angle, value, np.full(60, 0.05), np.arange(60) / 20.0, DIAL)


@pytest.mark.parametrize("tir_mm", [0.283, 0.288, 0.29])
def test_a_dial_read_to_its_numbered_marks_hides_no_run_out(tir_mm: float) -> None:
    """Taken for hundredths these read 0.255 mm, within 0.28."""
    check = judge_surface("rim", [rounded(tir_mm, 0.05, 0.02)], EXAMPLE)
    assert check.outcome in ("unclear", "over")
    assert any("move in steps of 0.05 mm" in said for said in check.warnings)
    assert check.gauge is not None
    assert check.gauge.resolution_mm == 0.01


@pytest.mark.parametrize(("gauge", "told"), [("dial-2", "dial-2"), ("typed", "what is read by eye")])
def test_the_note_calls_the_gauge_by_its_name_and_a_plain_dial_in_words(gauge: str, told: str) -> None:
    stated = replace(DIAL, id=gauge)
    (said,) = coarser_warnings(stated, replace(stated, resolution_mm=0.05))
    assert f"where 0.01 mm is stated of {told}: check its display" in said


def test_a_gauge_that_shows_its_own_steps_is_taken_as_stated() -> None:
    for own in (sweep(0.09), sweep(0.09, gauge=DIAL), sweep(0.003), rounded(0.2, 0.01, 0.0)):
        assert as_shown(own, Coarser()) is own


def test_even_notches_are_no_display() -> None:
    own = rounded(0.2, 0.01, 0.0)
    notched = replace(own, value_mm=np.where(np.arange(60) % 6 < 3, 0.0, 0.1))
    assert as_shown(notched, Coarser()) is notched


@given(
    values=st.lists(st.one_of(st.integers(-3, 3).map(float), st.floats(-1, 1)), min_size=1, max_size=40),
    within=st.one_of(st.integers(0, 3).map(float), st.floats(0, 2)),
)
def test_an_arc_reaches_back_as_far_as_one_step_after_another_would(
    values: list[float], within: float
) -> None:
    found = _reach_back(np.array(values), within)
    for last, first in enumerate(found):
        assert np.ptp(values[first : last + 1]) <= within
        assert first == 0 or np.ptp(values[first - 1 : last + 1]) > within
