"""An inch gauge that is configured in millimetres: what shows it, and what does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.grading.swept import FINE, eccentric, judged, swept, turn

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("true_mm", [0.29, 0.5, 0.9, 1.5])
def test_readings_finer_than_the_gauge_shows_may_be_inches(true_mm: float) -> None:
    """0.0005 in a step, taken for millimetres by a gauge that is stated to show 0.001."""
    inches = np.round(eccentric(turn(), true_mm) / 25.4 / 0.0005) * 0.0005
    check = judged(replace(swept(inches, turn(), noise_mm=0.0), value_mm=inches))
    assert check.outcome == "unclear", check.reason
    assert "the readings go by steps of 0.0005 mm, and indicator-1 is stated to show 0.001 mm" in check.reason


def test_a_sound_damper_whose_gauge_shows_more_than_is_stated_is_one() -> None:
    """A run-out that in inches no damper has."""
    half_steps = np.round(eccentric(turn(), 0.15) / 0.0005) * 0.0005
    assert judged(replace(swept(half_steps, turn(), FINE), value_mm=half_steps)).outcome == "within"
    assert judged(swept(eccentric(turn(), 0.04), turn(), FINE)).outcome == "within"
