"""The needle seen between stops, where draws and what was seen are worlds apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from grading.runout.needle import with_needle
from tests.grading.swept import COARSE, swept


def test_draws_far_below_what_was_seen_have_no_weight_and_no_overflow() -> None:
    """Waves of 100 mm, as of a wrong unit, looked at over part of the turn; an overflow is an error here."""
    stops = np.arange(0.0, 375.0, 15.0)
    value = 50.0 * np.cos(np.deg2rad(stops))
    seen = np.where(np.arange(stops.size) < 5, value, np.nan)
    sweep = replace(swept(value, stops, COARSE, noise_mm=0.0), low_mm=seen, high_mm=seen)
    drawn = np.concatenate([np.full(50, 1.0), np.full(50, 150.0)])
    tir_mm, _ = with_needle(drawn, np.zeros(100, dtype=bool), sweep, 0.0, seed=1)
    assert tir_mm.tolist() == [150.0] * 100
