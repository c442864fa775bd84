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
from grading.surface.modes import Normal
from grading.surface.observations import BIN_DEG, Observations, Wander, gather, one_turn
from grading.surface.spectra import Fits, Noise, fit, spectra

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
    family, found = spectra(20, spread=0.0), equations(x, value)
    plain = fit(found, family, np.empty(0), Noise(0.0015))
    wide = np.column_stack([np.linspace(-0.5, 0.5, value.size) ** 3, np.ones(value.size), x])
    more = fit(equations(wide, value), family, np.array([0.1, 0.5]), Noise(0.0015), plain)
    check_against_density(plain, x, value)
    check_against_density(more, wide, value)
    check_against_density(more.without_first(), wide[:, 1:], value)


def check_against_density(fits: Fits, x: F64, value: F64) -> None:
    """At the prior and noise that were found."""
    for s in range(0, fits.noise.size, 5):
        prior, noise = fits.prior[s], fits.noise[s]
        whole = (x * prior**2) @ x.T + noise**2 * np.eye(value.size)
        expected = log_density(value, whole) + 0.5 * value.size * np.log(2 * np.pi)
        assert fits.evidence[s] == pytest.approx(expected, abs=1e-6)
        mean, covariance = fits.posterior([s])
        gain = (prior**2)[:, None] * x.T @ np.linalg.inv(whole)
        assert mean[0] == pytest.approx(gain @ value, abs=1e-9)
        expected_covariance = np.diag(prior**2) - gain @ x @ np.diag(prior**2)
        assert covariance[0] == pytest.approx(expected_covariance, abs=1e-9)


def test_the_search_ends_where_the_evidence_is_highest() -> None:
    _, x, value = case(4, 0.002, readings=400)
    family = spectra(20, spread=0.0)
    fits = fit(equations(x, value), family, np.empty(0), Noise(0.002))
    shape = family.shape
    for s in (4, 9, 30):

        def evidence(amplitude: float, noise: float, s: int = s) -> float:
            prior = fits.prior[s] * np.where(shape[s] > 0, amplitude, 1.0)
            whole = (x * prior**2) @ x.T + (noise * fits.noise[s]) ** 2 * np.eye(value.size)
            return log_density(value, whole)

        most = evidence(1.0, 1.0)
        assert all(evidence(a, 1.0) < most + 0.01 for a in (0.8, 1.25))
        assert all(evidence(1.0, n) < most + 0.01 for n in (0.95, 1.05))


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
    fits = fit(equations(x, value), spectra(20, spread=0.0), np.empty(0), Noise(0.002, known=True))
    best = int(np.argmax(fits.evidence))
    (mean,), (covariance,) = fits.posterior([best])
    some = Dictionary(np.array([120.0, 121.0]), np.array([8.0, 11.0]), np.array([0.0, 0.5]))
    found = match(moments(some, data, x), mean, covariance, 0.002)
    whole = (x * fits.prior[best] ** 2) @ x.T + 0.002**2 * np.eye(value.size)
    for j in range(2):
        shape = bumps(some, angle)[:, j]
        for h, height in enumerate(HEIGHTS_MM):
            more = whole + height**2 * np.outer(shape, shape)
            expected = log_density(value, more) - log_density(value, whole)
            assert found.log_factor[h, j] == pytest.approx(expected, abs=1e-5)
            gain = height**2 * shape @ np.linalg.inv(more)
            (middle,), (sd,) = found.heights(np.array([h * 2 + j]))
            assert middle == pytest.approx(float(gain @ value), abs=1e-8)
            assert sd == pytest.approx(np.sqrt(height**2 * (1 - gain @ shape)), abs=1e-8)


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
    family, beside = spectra(1, spread=0.0), np.array([1.0, 1.0, 1.0, 1 / 0.2, 1 / 0.2])
    for noise in (1e-3, 1e-5, 1e-6):
        x, known = rng.standard_normal((40, 3)), Noise(noise, known=True)
        alike, alone = equations(x @ mixed * beside, x[:, 0]), equations(x @ apart * beside[2:], x[:, 0])
        found = fit(alike, family, np.ones(3), known).evidence
        assert found == pytest.approx(fit(alone, family, np.ones(1), known).evidence, abs=0.1)


def test_waves_that_are_not_told_from_other_columns_have_the_evidence_of_the_density() -> None:
    rng = np.random.default_rng(9)
    for noise in (1e-2, 1e-3, 1e-4):
        x = rng.standard_normal((40, 4))
        # Columns of the second order as those before them, and some readings that none of them explains.
        alike = np.column_stack([x, x[:, 0], x[:, 1] + x[:, 2]])
        value = 0.01 * x[:, 0] + noise * rng.standard_normal(40)
        fits = fit(equations(alike, value), spectra(2, spread=0.0), np.ones(2), Noise(noise, known=True))
        for s in range(fits.noise.size):
            factor = np.linalg.cholesky((alike * fits.prior[s] ** 2) @ alike.T + noise**2 * np.eye(40))
            white = np.linalg.solve(factor, value)
            expected = -0.5 * white @ white - np.log(np.diag(factor)).sum()
            assert fits.evidence[s] == pytest.approx(expected, abs=1e-3)


def test_columns_that_rounding_makes_one_have_some_evidence(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(a: F64) -> F64:
        raise np.linalg.LinAlgError

    _, x, value = case(4, 0.002)
    family, normal = spectra(20, spread=0.0), equations(x, value)
    expected = fit(normal, family, np.empty(0), Noise(0.0015)).evidence
    monkeypatch.setattr(np.linalg, "cholesky", fails)
    assert fit(normal, family, np.empty(0), Noise(0.0015)).evidence == pytest.approx(expected, abs=1e-6)
