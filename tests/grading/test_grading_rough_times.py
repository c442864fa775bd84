"""Times that pause, repeat or run back do not keep a rough surface from being graded."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep
from grading.kinds.surfaces import judge_surface
from tests.grading.samples import EXAMPLE

FINE = GaugeFacts("indicator-1", 0.002, 0.006)


def toothed(readings: int, seed: int) -> Sweep:
    """A rim with 7 teeth: 0.10 mm in all, 0.02 of them the teeth's, which no few waves follow."""
    angle: F64 = np.linspace(0.0, 366.0, readings)
    form = 0.04 * np.cos(np.deg2rad(angle - 41.0)) + 0.02 * (np.mod(angle, 360.0 / 7) < 20.0)
    value = form + np.random.default_rng(seed).normal(0.0, 0.0008, readings)
    shown: F64 = np.asarray(np.rint(value / FINE.resolution_mm) * FINE.resolution_mm)
    even: F64 = np.linspace(0.0, 0.04 * readings, readings)
    return Sweep("rim", angle, shown, np.full(readings, 0.05), even, FINE)


def times(kind: str, even: F64) -> F64:
    late = np.arange(even.size) >= even.size // 3
    told: dict[str, F64] = {
        "a pause without readings": np.asarray(even + 600.0 * late),
        "whole seconds": np.asarray(np.floor(even / 5.0) * 5.0),
        "a clock that was set back": np.asarray(even - even[-1] * late),
    }
    return told[kind]


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["a pause without readings", "whole seconds", "a clock that was set back"])
def test_times_that_are_uneven_do_not_keep_a_rough_surface_from_its_grade(kind: str) -> None:
    sweep = toothed(2000, 1)
    check = judge_surface("rim", [replace(sweep, time_s=times(kind, sweep.time_s))], EXAMPLE)
    assert check.outcome == "within"
    assert any("follow no form of few waves" in warning for warning in check.warnings)
