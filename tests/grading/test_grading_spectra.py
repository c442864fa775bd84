"""Evidence in closed form against the multivariate normal density itself, and what it chooses."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep
from grading.surface.features import (
    HEIGHTS_MM,
    Dictionary,
    bumps,
    everywhere,
    match,
    moments,
    moments_everywhere,
)
from grading.surface.harmonics import columns
from grading.surface.models import Model, weigh
from grading.surface.observations import BIN_DEG, Observations, Wander, gather, one_turn
from grading.surface.spectra import Noise, Normal, fit, log_evidence, posterior, spectra

STEADY = Wander(0.003, 0.0, np.empty(0))


def observations(angle_deg: F64, value_mm: F64) -> Observations:
    """Every reading by itself."""
    n = angle_deg.size
    along = np.linspace(-0.5, 0.5, n)
    level = STEADY.columns(along)
    return Observations(
        angle_deg, along, value_mm, np.ones(n), np.zeros(n), 0.0, float(n), level, STEADY.prior_mm()
    )


def case(orders: int, noise_mm: float, seed: int = 5, readings: int = 90) -> tuple[F64, F64, F64]:
    """Angles, columns of 20 orders, and values of a surface of so many orders."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 365, readings))
    x = columns(angle, 20)
    coefficients = np.zeros(40)
    coefficients[: 2 * orders] = rng.normal(0, 0.03, 2 * orders) / np.repeat(np.arange(1, orders + 1), 2)
    return angle, x, x @ coefficients + rng.normal(0, noise_mm, readings)


def equations(x: F64, value_mm: F64) -> Normal:
    """Unweighted normal equations."""
    return Normal(x.T @ x, x.T @ value_mm, float(value_mm @ value_mm), float(value_mm.size))


def log_density(value_mm: F64, covariance: F64) -> float:
    """Of a zero-mean normal vector."""
    return float(scipy.stats.multivariate_normal(np.zeros(value_mm.size), covariance).logpdf(value_mm))


def test_evidence_and_posterior_against_the_density_of_the_readings() -> None:
    _, x, value = case(4, 0.002)
    rng = np.random.default_rng(1)
    prior = np.abs(rng.normal(0, 0.05, (3, 40)))
    prior[1, 20:] = 0.0
    noise = np.array([0.002, 0.004, 0.001])
    mean, covariance = posterior(equations(x, value), prior, noise)
    evidence = log_evidence(equations(x, value), prior, noise)
    for s in range(3):
        whole = (x * prior[s] ** 2) @ x.T + noise[s] ** 2 * np.eye(value.size)
        expected = log_density(value, whole) + 0.5 * value.size * np.log(2 * np.pi)
        assert evidence[s] == pytest.approx(expected, abs=1e-6)
        gain = (prior[s] ** 2)[:, None] * x.T @ np.linalg.inv(whole)
        assert mean[s] == pytest.approx(gain @ value, abs=1e-9)
        expected_covariance = np.diag(prior[s] ** 2) - gain @ x @ np.diag(prior[s] ** 2)
        assert covariance[s] == pytest.approx(expected_covariance, abs=1e-9)


def test_the_noise_and_the_order_are_found() -> None:
    family = spectra(20, spread=0.0)
    for orders, noise in ((1, 0.001), (4, 0.003), (9, 0.002)):
        _, x, value = case(orders, noise, readings=400)
        fits = fit(equations(x, value), family, np.empty(0), Noise(0.0015))
        best = int(np.argmax(fits.evidence))
        found = int(np.max(np.flatnonzero(fits.prior[best] > 0))) // 2 + 1
        assert found >= orders
        mean, _ = fits.posterior([best])
        assert np.abs(mean[0, 2 * orders :]).max() < 4 * noise / 200**0.5
        short = np.flatnonzero((fits.prior > 0).sum(axis=1) < 2 * orders)
        assert (fits.evidence[short] < fits.evidence[best] - 5).all()
        assert fits.noise[best] == pytest.approx(noise, rel=0.15)


def test_a_feature_is_weighed_as_the_density_says() -> None:
    angle, x, value = case(3, 0.002)
    data = observations(angle, value)
    prior, noise = np.full((1, 40), 0.02), np.array([0.002])
    mean, covariance = posterior(equations(x, value), prior, noise)
    some = Dictionary(np.array([120.0, 121.0]), np.array([8.0, 11.0]), np.array([0.0, 0.5]))
    found = match(moments(some, data, x), mean[0], covariance[0], 0.002)
    whole = (x * prior[0] ** 2) @ x.T + 0.002**2 * np.eye(value.size)
    for j in range(2):
        shape = bumps(some, angle)[:, j]
        for h, height in enumerate(HEIGHTS_MM):
            more = whole + height**2 * np.outer(shape, shape)
            expected = log_density(value, more) - log_density(value, whole)
            assert found.log_factor[h, j] == pytest.approx(expected, abs=1e-5)
            gain = height**2 * shape @ np.linalg.inv(more)
            assert found.mean[h, j] == pytest.approx(float(gain @ value), abs=1e-8)
            assert found.sd[h, j] == pytest.approx(np.sqrt(height**2 * (1 - gain @ shape)), abs=1e-8)


def test_the_dictionary_of_the_whole_turn_by_transform_is_the_plain_sum() -> None:
    angle = np.arange(0.25, 360.0, 0.5)
    x = columns(angle, 6)
    rng = np.random.default_rng(2)
    data = observations(angle, rng.normal(0, 0.01, 720))
    shape = bumps(everywhere(), angle)
    found = moments_everywhere(data, x)
    assert found.cross == pytest.approx(x.T @ shape, abs=1e-9)
    assert found.right == pytest.approx(data.value_mm @ shape, abs=1e-9)
    assert found.square == pytest.approx(np.sum(shape**2, axis=0), abs=1e-9)


def test_a_dent_is_told_from_harmonics() -> None:
    rng = np.random.default_rng(3)
    angle = np.sort(rng.uniform(0, 365, 500))
    value = 0.08 * np.cos(np.deg2rad(angle - 30)) + rng.normal(0, 0.002, 500)
    family = spectra(20, spread=0.0)
    smooth = weigh(observations(angle, value), family, Noise(0.0015))
    assert smooth.feature_probability < 0.7
    dent = -0.03 * bumps(Dictionary(np.array([200.0]), np.array([9.0]), np.zeros(1)), angle)[:, 0]
    dented = weigh(observations(angle, value + dent), family, Noise(0.0015))
    assert dented.feature is not None
    assert dented.feature[0] == pytest.approx(200.0, abs=0.5)
    assert dented.feature[1] == pytest.approx(9.0, rel=0.25)
    assert dented.feature_probability > 0.999
    assert all(isinstance(model, Model) and model.match is not None for model in dented.models)


def test_gathering_loses_nothing_that_a_fit_needs() -> None:
    rng = np.random.default_rng(4)
    angle = np.sort(rng.uniform(0, 366, 5000))
    value = np.round((0.1 * np.cos(np.deg2rad(angle)) + rng.normal(0, 0.002, 5000)) / 0.01) * 0.01
    sweep = Sweep("rim", angle, value, np.full(5000, 0.1), np.arange(5000.0), GaugeFacts("g", 0.01, 0.01))
    for by_value in (False, True):
        data = gather(sweep, STEADY, by_value=by_value)
        assert data.angle_deg.size <= (366 / BIN_DEG + 1) * (1 + 5 * by_value)
        assert data.weight.sum() == 5000
        assert data.weight @ data.value_mm == pytest.approx(value.sum())
        assert data.weight @ data.value_mm**2 + data.within == pytest.approx(float(value @ value))
    assert gather(sweep, STEADY, by_value=True).within == pytest.approx(0.0, abs=1e-12)


def test_one_turn_is_cut_where_the_angles_are_known() -> None:
    angle = np.arange(-20.0, 380.0)
    u = np.full(angle.size, 8.0)
    u[np.isin(angle, [0.0, 120.0, 240.0, 360.0])] = 0.5
    sweep = Sweep("rim", angle, angle * 0, u, np.arange(400.0), GaugeFacts("g", 0.01, 0.01))
    cut = one_turn(sweep)
    assert (cut.angle_deg[0], cut.angle_deg[-1]) == (0.0, 360.0)


def test_columns_that_a_prior_hardly_keeps_apart_have_the_evidence_of_those_that_are_apart() -> None:
    rng = np.random.default_rng(8)
    mixed = np.column_stack([np.eye(3), [1.0, 1.0, 1.0], [1.0, -1.0, 0.0]])
    apart = np.linalg.cholesky(mixed @ mixed.T)
    for noise in (1e-3, 1e-5, 1e-6):
        x = rng.standard_normal((40, 3))
        alike, alone = equations(x @ mixed, x[:, 0]), equations(x @ apart, x[:, 0])
        found = log_evidence(alike, np.ones((1, 5)), np.array([noise]))
        assert found == pytest.approx(log_evidence(alone, np.ones((1, 3)), np.array([noise])), abs=0.1)


def test_columns_that_rounding_makes_one_have_some_evidence(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(a: F64) -> F64:
        raise np.linalg.LinAlgError

    _, x, value = case(4, 0.002)
    normal, prior, noise = equations(x, value), np.full((3, 40), 0.02), np.array([0.002, 0.004, 0.001])
    expected = log_evidence(normal, prior, noise)
    monkeypatch.setattr(np.linalg, "cholesky", fails)
    assert log_evidence(normal, prior, noise) == pytest.approx(expected, abs=1e-6)
