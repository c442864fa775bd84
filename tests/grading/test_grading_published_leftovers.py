"""What a fit leaves over, held against NIST reference data and the textbook tests of residuals."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from grading.evidence import F64
from grading.runout.leftover import LAGS, PLACES_MAX, READINGS_EACH, Leftover, correlation, examine

SETS: dict[str, Any] = tomllib.loads((Path(__file__).parent / "data/reference_datasets.toml").read_text())
# What a leftover of this many standard deviations is called in the example method (`misfit_from`).
MISFIT, BACK = 4.5, 1.5
# A gauge's usual scatter, to which every set is brought, in mm.
SCATTER_MM = 0.002


def ljung_box(rest: F64, lags: tuple[int, ...]) -> float:
    """Chance that white noise gives as much: Ljung and Box 1978, Q = n (n + 2) sum r_k^2 / (n - k), which
    has as many degrees of freedom as lags (formula from memory; distribution by scipy)."""
    n, off = rest.size, rest - rest.mean()
    r = np.array([np.sum(off[k:] * off[:-k]) / np.sum(off**2) for k in lags])
    q = n * (n + 2) * float(np.sum(r**2 / (n - np.array(lags))))
    return float(stats.chi2.sf(q, len(lags)))


def residuals(name: str, powers: list[int]) -> F64:
    """Of a least-squares fit of these powers (numpy's), in the order of the data."""
    x, y = np.array(SETS[name]["x"]), np.array(SETS[name]["y"])
    x = x / np.abs(x).max()
    design = np.column_stack([x**power for power in powers])
    return np.asarray(y - design @ np.linalg.lstsq(design, y, rcond=None)[0])


def examined(rest: F64) -> Leftover:
    """As what a sweep of one turn leaves over, brought to a gauge's scatter."""
    rest = (rest - rest.mean()) / rest.std() * SCATTER_MM
    return examine(np.linspace(0.0, 360.0, rest.size, endpoint=False), rest, 0.0, SCATTER_MM, 24)


@pytest.mark.parametrize("name", ["lottery", "michelson", "lew", "mavro"])
def test_the_autocorrelation_is_the_certified_one(name: str) -> None:
    # NIST/ITL Statistical Reference Datasets, certified lag-1 autocorrelation coefficients
    y = np.array(SETS[name]["y"])
    assert correlation(y - y.mean(), 1) == pytest.approx(SETS[name]["autocorrelation"], abs=1e-12)


def test_it_is_the_one_in_the_statistic_of_durbin_and_watson() -> None:
    # Durbin and Watson 1950: d = sum (e_t - e_(t-1))^2 / sum e_t^2 = 2 (1 - r_1) less the ends' share.
    rest = residuals("norris", [0, 1])
    d = float(np.sum(np.diff(rest) ** 2) / np.sum(rest**2))
    ends = float((rest[0] ** 2 + rest[-1] ** 2) / np.sum(rest**2))
    assert d == pytest.approx(2 * (1 - correlation(rest, 1)) - ends, rel=1e-12)


@pytest.mark.parametrize(
    ("rest", "is_noise"),
    [
        (np.array(SETS["lottery"]["y"]), True),
        (residuals("pontius", [0, 1, 2]), True),
        (np.array(SETS["michelson"]["y"]), False),
        (np.array(SETS["mavro"]["y"]), False),
        (residuals("pontius", [0, 1]), False),
    ],
    ids=["lottery", "load cell, quadratic", "speed of light", "transmittance", "load cell, straight"],
)
def test_what_is_noise_and_what_is_not_is_as_ljung_and_box_have_it(rest: F64, is_noise: bool) -> None:
    assert (ljung_box(rest, LAGS) > 0.01) == is_noise
    assert examined(rest).is_structured(MISFIT, BACK) != is_noise


@pytest.mark.slow
def test_of_noise_the_figures_are_distributed_as_they_say() -> None:
    rng, runs, n = np.random.default_rng(34), 400, 4000
    found = [examined(rng.normal(0.0, 1.0, n)) for _ in range(runs)]
    # Standard deviations of a normal figure, and a chi-square one of as many degrees of freedom as places.
    assert stats.kstest([one.runs_on for one in found], "norm").pvalue > 0.01
    places = min(n // READINGS_EACH, PLACES_MAX)
    squares = [one.by_place * (2 * places) ** 0.5 + places for one in found]
    assert stats.kstest(squares, stats.chi2(places).cdf).pvalue > 0.01
    assert not any(one.is_structured(MISFIT, BACK) for one in found)
