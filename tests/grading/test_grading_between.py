"""What lies between a plain dial's stops, and what poorly known angles smear: neither makes a figure low."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from grading.surface.features import Dictionary, bumps
from tests.grading.estimate import estimate_runout
from tests.grading.test_grading_runout import COARSE, FINE, agrees, swept, turn


@pytest.mark.slow
def test_what_twelve_stops_cannot_see_of_a_dent_is_in_the_interval() -> None:
    """Anywhere on the rim, 5 to 15 degrees wide, up to a fifth of the run-out deep."""
    stops, fine = (np.linspace(0.0, 360.0, n, endpoint=False) for n in (12, 3600))
    rng, held = np.random.default_rng(8), 0
    for _ in range(10):
        at, width, depth = rng.uniform(0, 360), rng.uniform(5, 15), rng.uniform(0, 0.04)
        dent = Dictionary(np.array([at]), np.array([width]), np.zeros(1))
        value, true = (
            0.1 * np.cos(np.deg2rad(angle)) - depth * bumps(dent, angle)[:, 0] for angle in (stops, fine)
        )
        sweep = replace(swept(value, stops, COARSE), time_s=np.zeros(12), angle_u_deg=np.full(12, 2.0))
        found = estimate_runout([sweep], seed=1)
        held += agrees(found, float(np.ptp(true)))
        assert next(line.u_mm for line in found.budget if line.source.startswith("what gaps")) > 0.01
    assert held >= 9


@pytest.mark.slow
def test_angles_that_are_known_to_few_degrees_do_not_shrink_the_figure() -> None:
    """Angles off by u smear order k by exp(-k²u²/2), 4 % of order 4 at 4°: it is undone where u is told."""
    path = turn(720)
    errors = []
    for seed in range(3):
        off = np.random.default_rng(seed).normal(0.0, 4.0, path.size)
        true = path + off
        value = 0.10 * np.cos(np.deg2rad(true)) + 0.05 * np.cos(4 * np.deg2rad(true))
        told = replace(
            swept(value, path, FINE, noise_mm=0.001, seed=seed), angle_u_deg=np.full(path.size, 4.0)
        )
        errors.append(estimate_runout([told], seed=1))
    fine = np.deg2rad(np.linspace(0.0, 360.0, 7200))
    truth = float(np.ptp(0.10 * np.cos(fine) + 0.05 * np.cos(4 * fine)))
    assert all(agrees(found, truth) for found in errors)
    assert np.mean([found.true_tir_mm - truth for found in errors]) > -0.001
