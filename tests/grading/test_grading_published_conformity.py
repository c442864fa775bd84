"""Conformity decisions and risks against JCGM 106:2012, ISO 14253-1 and ILAC-G8.

Each check names how sure we are of it: "from memory" (the arithmetic is reproduced, the digits are
not quoted), "read in source", "read in transcription", "computed" (from the published formulae).
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from grading.decision.decision import (
    Measured,
    Rule,
    acceptance_limit_mm,
    decide,
    guard_band_mm,
    p_over,
)
from grading.gauge.risk import (
    ErrorModel,
    Prior,
    Zones,
    chances,
    decision_zones,
    global_risks,
    normal_prior,
)
from grading.statistics.distributions import normal_cdf, normal_quantile

TABLES = tomllib.loads((Path(__file__).parent / "data" / "tables.toml").read_text())


def normal_figure(y: float, u: float) -> Measured:
    return Measured(y, 2.0 * u)


def kept_at_limit(rule: Rule) -> float:
    """Chance that a part exactly on its limit is found `within`, U = 2 u: the rule's bound."""
    errors, limit = ErrorModel(0.01), 0.28
    return chances(limit, errors, decision_zones(errors, limit, rule, math.erf(math.sqrt(2.0)))).within


def of_two_limits(
    prior: Prior, errors: ErrorModel, low: float, high: float, w: float
) -> tuple[float, float, float]:
    """Shares nonconforming, accepted wrongly, rejected wrongly, of a tolerance with two sides."""
    lower, upper = Zones(low + w, low + w), Zones(high - w, high - w)
    outside = (prior.points_mm < low) | (prior.points_mm > high)
    accepted = np.array(
        [chances(t, errors, upper).within - chances(t, errors, lower).within for t in prior.points_mm]
    )
    return (
        float(prior.weights @ outside),
        float((prior.weights * outside) @ accepted),
        float((prior.weights * ~outside) @ (1.0 - accepted)),
    )


@pytest.mark.parametrize(
    ("p", "printed", "full"),
    [
        (0.80, 0.84, 0.8416212335729143),
        (0.90, 1.28, 1.2815515655446004),
        (0.95, 1.64, 1.6448536269514722),
        (0.99, 2.33, 2.3263478740408408),
        (0.999, 3.09, 3.090232306167813),
    ],
)
def test_one_sided_quantiles(p: float, printed: float, full: float) -> None:
    # JCGM 106:2012, 7.3, table 1 [from memory; reproduced]
    assert normal_quantile(p) == pytest.approx(full, abs=1e-9)
    assert normal_quantile(p) == pytest.approx(printed, abs=0.005)


def test_conformance_probability_of_an_upper_limit() -> None:
    # JCGM 106:2012, 7.3.3, example 1: breakdown voltage [from memory; reproduced]
    assert 1.0 - p_over(normal_figure(-5.47, 0.05), -5.40) == pytest.approx(0.9192433407662289, abs=1e-9)


def test_conformance_probability_of_a_lower_limit() -> None:
    # JCGM 106:2012, 7.3.3, example 2: burst strength [from memory; reproduced]; y over its limit
    assert p_over(normal_figure(509.7, 8.6), 490.0) == pytest.approx(0.9890095473848223, abs=1e-9)


def test_conformance_probability_of_two_limits() -> None:
    # JCGM 106:2012, 7.4: kinematic viscosity [from memory; reproduced]
    figure = normal_figure(13.6, 1.8)
    assert p_over(figure, 12.5) - p_over(figure, 16.3) == pytest.approx(0.6626297864953078, abs=1e-9)


def test_conformance_probability_near_our_limit() -> None:
    # JCGM 106:2012, 7.3, applied to 0.28 mm and u = 0.01 mm [computed]
    expected = (0.9986501019683699, 0.9772498680518209, 0.8413447460685431, 0.5, 0.15865525393145813)
    found = [1.0 - p_over(normal_figure(y, 0.01), 0.28) for y in (0.25, 0.26, 0.27, 0.28, 0.29)]
    assert found == pytest.approx(expected, abs=1e-9)


def test_guarded_rejection_of_a_speed() -> None:
    # JCGM 106:2012, 8.3.3, example: u is 2 % of the reading, proof 99.9 % [from memory; reproduced]
    rule = Rule("guarded-rejection", probability=0.999)
    threshold = 100.0 / (1.0 - 0.02 * normal_quantile(0.999))
    assert threshold == pytest.approx(106.5876094853783, abs=1e-6)
    assert math.ceil(threshold) == 107  # printed
    outcomes = [
        decide(normal_figure(v, 0.02 * v), 100.0, rule) for v in (100.0, 106.0, threshold + 1e-9, 107.0)
    ]
    assert outcomes == ["within", "unclear", "over", "over"]


@pytest.mark.parametrize(
    ("r", "pfa"),
    [
        (-1.0, 0.9772498680518208),
        (0.0, 0.5),
        (0.5, 0.15865525393145707),
        (0.83, 0.04845722626672282),
        (1.0, 0.022750131948179195),
        (1.5, 0.0013498980316300933),
        (3.0, 9.865876450376946e-10),
    ],
)
def test_guard_band_factors(r: float, pfa: float) -> None:
    # JCGM 106:2012, 8.3.2.2 and 8.3.2.3: w = r U, U = 2 u [from memory; reproduced]
    u, limit = 0.01, 0.28
    at_limit = normal_figure(limit - r * 2.0 * u, u)
    assert p_over(at_limit, limit) == pytest.approx(pfa, abs=1e-9)
    if r >= 0.0:
        rule = Rule("guarded-acceptance", guard_r=r)
        assert acceptance_limit_mm(rule, limit, 2.0 * u) == pytest.approx(limit - r * 2.0 * u, rel=1e-15)
        assert kept_at_limit(rule) == pytest.approx(pfa, abs=1e-9)


def test_default_rule_of_a_single_limit() -> None:
    # ISO 14253-1:2017: 95 % conformance, guard band 1.65 u [from memory; reproduced]
    rule = Rule("guarded-both", probability=0.95)
    assert guard_band_mm(rule, 2.0) == pytest.approx(1.6448536269514722, abs=1e-9)  # U = 2, u = 1
    assert guard_band_mm(rule, 2.0) / 2.0 == pytest.approx(0.8224268134757361, abs=1e-9)  # printed 0.83 U
    assert normal_cdf(-1.65) == pytest.approx(0.0494714680336481, abs=1e-9)


def test_published_table_of_rules() -> None:
    # ILAC-G8:09/2019, 4.2 [w = U and w = 0 read in transcription, other rows from memory; reproduced]
    for r, bound, tail in (
        (3.0, 1e-6, 9.865876450376946e-10),
        (1.5, 0.0016, 0.0013498980316300933),
        (1.0, 0.025, 0.022750131948179195),
        (0.83, 0.05, 0.04845722626672282),
        (0.0, 0.5, 0.5),
    ):
        rule = Rule("guarded-acceptance", guard_r=r)
        assert kept_at_limit(rule) == pytest.approx(tail, abs=1e-9)
        assert kept_at_limit(rule) <= bound
    # "uncritical": rejected above the limit + U only; false rejection below 2.5 %
    uncritical = decision_zones(ErrorModel(0.01), 0.28, Rule("guarded-rejection", guard_r=1.0), 0.9545)
    assert uncritical.reject_mm == pytest.approx(0.30, abs=1e-6)
    assert chances(0.28, ErrorModel(0.01), uncritical).over == pytest.approx(0.02275, abs=1e-5)


def test_binary_and_conditional_statements() -> None:
    # ILAC-G8:09/2019, 4.2.1 to 4.2.3 [read in source]; limit 0.28, w = 0.02
    values = (0.255, 0.265, 0.285, 0.305)

    def outcomes(rule: Rule) -> list[str]:
        return [decide(Measured(y, 0.02), 0.28, rule) for y in values]

    assert outcomes(Rule("simple-acceptance")) == ["within", "within", "over", "over"]
    accepted = [o == "within" for o in outcomes(Rule("guarded-acceptance", guard_r=1.0))]
    assert accepted == [True, False, False, False]
    # conditional pass and conditional fail are what we call unclear
    assert outcomes(Rule("guarded-both", guard_r=1.0)) == ["within", "unclear", "unclear", "over"]


@pytest.mark.parametrize(
    ("r", "consumer", "producer"),
    [
        (0.0, 0.018942206717105628, 0.03720780017813553),
        (0.25, 0.00987829152172808, 0.0690265104615649),
        (0.5, 0.004334072221801687, 0.11465657840820495),
        (1.0, 0.00046863359886933404, 0.24766964020072035),
    ],
)
def test_global_risks_of_resistors(r: float, consumer: float, producer: float) -> None:
    # JCGM 106:2012, 9.5, two-sided, normal prior [inputs from memory, outputs computed; reproduced]
    low, high, um = 1499.8, 1500.2, 0.04
    w = r * 2.0 * um
    found = of_two_limits(normal_prior(1500.0, 0.12, (low, high)), ErrorModel(um), low, high, w)
    assert found == pytest.approx((0.0955807045456294, consumer, producer), abs=1e-8)


@pytest.mark.parametrize("row", TABLES["global_risk_curves"]["rows"], ids=str)
def test_global_risk_curves(row: list[float]) -> None:
    # JCGM 106:2012, 9.5.5: T = 1, prior sd T/6, u = T/(4 C_m), w = r U [computed]
    cm, r, consumer, producer = row
    um = 1.0 / (4.0 * cm)
    w = r * 2.0 * um
    prior = normal_prior(0.0, 1.0 / 6.0, (-0.5, 0.5))
    _, *found = of_two_limits(prior, ErrorModel(um), -0.5, 0.5, w)
    assert found == pytest.approx([consumer, producer], abs=1e-7)


@pytest.mark.parametrize(
    ("r", "consumer", "producer"),
    [
        (0.0, 0.001222674356351819, 0.002659694545675159),
        (0.83, 7.098467271138955e-05, 0.015410932776434802),
        (1.0, 3.047027175481606e-05, 0.01999333658256029),
    ],
)
def test_global_risks_of_one_upper_limit(r: float, consumer: float, producer: float) -> None:
    # JCGM 106:2012, 9.5 formulae, 0.28 mm, prior N(0.18, 0.04), u = 0.01 mm [computed]
    zones = Zones(0.28 - r * 0.02, 0.28)
    found = global_risks(normal_prior(0.18, 0.04, (0.28,)), ErrorModel(0.01), zones, 0.28)
    assert (found.kept_wrongly, found.not_kept_wrongly) == pytest.approx((consumer, producer), abs=1e-8)
    # the same by the bivariate normal distribution function of an independent library: chance of a
    # true figure over the limit and a reading up to the acceptance limit
    covariance = np.array([[0.0016, 0.0016], [0.0016, 0.0017]])
    joint = stats.multivariate_normal([0.18, 0.18], covariance)
    both = float(joint.cdf([0.28, zones.accept_mm]))
    reading = float(stats.norm.cdf(zones.accept_mm, 0.18, math.sqrt(0.0017)))
    assert found.kept_wrongly == pytest.approx(reading - both, abs=1e-8)
