"""Readings as intervals: the special functions, and the posterior against direct integration."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.special
import scipy.stats

from grading.surface.quantised import interval_moments, mills, propagate


def test_mills_ratio_against_scipy() -> None:
    x = np.linspace(0.0, 60.0, 4001)
    expected = np.sqrt(np.pi / 2) * scipy.special.erfcx(x / np.sqrt(2.0))
    assert mills(x) == pytest.approx(expected, rel=2e-7)


@pytest.mark.slow
def test_interval_moments_against_the_truncated_normal() -> None:
    rng = np.random.default_rng(1)
    low = rng.uniform(-8.0, 8.0, 3000)
    high = low + rng.uniform(0.05, 12.0, 3000)
    log_chance, g, h = interval_moments(low, high)
    # The derivatives of log P(low < z + m < high) at m = 0 are the truncated mean and variance less 1.
    assert g == pytest.approx(scipy.stats.truncnorm.mean(low, high), abs=2e-5)
    assert h == pytest.approx(1.0 - scipy.stats.truncnorm.var(low, high), abs=5e-5)
    near = (low < 6) & (high > -6)
    a, b = np.where(low > 0, -high, low), np.where(low > 0, -low, high)
    expected = np.log(scipy.stats.norm.cdf(b) - scipy.stats.norm.cdf(a))
    assert log_chance[near] == pytest.approx(expected[near], abs=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize(("noise_um", "readings"), [(1.0, 40), (3.0, 25), (0.6, 200)])
def test_the_posterior_of_a_tilted_line_agrees_with_integration(noise_um: float, readings: int) -> None:
    """Two coefficients, so that a grid over the exact likelihood is the oracle."""
    rng = np.random.default_rng(readings)
    step, noise = 0.01, noise_um / 1000
    x = np.column_stack([np.ones(readings), np.linspace(-1.0, 1.0, readings)])
    prior = np.array([0.02, 0.02])
    seen = np.round((x @ [0.0031, 0.0123] + rng.normal(0, noise, readings)) / step) * step
    sites = propagate(x, prior, seen, np.ones(readings), np.zeros(readings), step, noise, rounds=30)
    precision = x.T @ (x * sites.weight[:, None]) + np.diag(prior**-2)
    covariance = np.linalg.inv(precision)
    mean = covariance @ (x.T @ (sites.weight * sites.value_mm))
    # The same noise as was found, so that only the approximation of the posterior is compared.
    span = 8 * np.sqrt(np.diag(covariance))
    axes = [m + np.linspace(-s, s, 121) for m, s in zip(mean, span, strict=True)]
    a, b = np.meshgrid(*axes, indexing="ij")
    line = a[..., None] + b[..., None] * x[:, 1]
    high = scipy.stats.norm.cdf((seen + step / 2 - line) / sites.noise_mm)
    low = scipy.stats.norm.cdf((seen - step / 2 - line) / sites.noise_mm)
    log_p = np.log(np.maximum(high - low, 1e-300)).sum(axis=-1) - 0.5 * (a**2 + b**2) / 0.02**2
    p = np.exp(log_p - log_p.max())
    p /= p.sum()
    exact = np.array([(p * a).sum(), (p * b).sum()])
    sd = np.sqrt([(p * (a - exact[0]) ** 2).sum(), (p * (b - exact[1]) ** 2).sum()])
    assert np.abs(mean - exact) == pytest.approx([0.0, 0.0], abs=0.12 * float(sd.max()))
    assert np.sqrt(np.diag(covariance)) == pytest.approx(sd, rel=0.12)


def test_the_noise_is_found_beneath_the_display() -> None:
    rng = np.random.default_rng(8)
    readings, step = 1500, 0.01
    x = np.column_stack([np.ones(readings), np.linspace(-1.0, 1.0, readings)])
    for noise in (0.0008, 0.002, 0.004):
        seen = np.round((x @ [0.002, 0.06] + rng.normal(0, noise, readings)) / step) * step
        sites = propagate(x, np.array([0.1, 0.1]), seen, np.ones(readings), np.zeros(readings), step, 0.001)
        assert sites.noise_mm == pytest.approx(noise, rel=0.25)
