"""Risks: the error model, the zones, simulation against the stated bound, priors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from grading.decision.decision import Decided, Measured, Rule, decide
from grading.gauge.risk import (
    ErrorModel,
    chances,
    decision_zones,
    density_prior,
    gauge_errors,
    global_risks,
    normal_prior,
    records_prior,
    simulate,
)

LIMIT = 0.28
PROOF = Rule("guarded-both", probability=0.95)
RULES = (
    PROOF,
    Rule("guarded-acceptance", probability=0.99),
    Rule("guarded-rejection", guard_r=1.0),
    Rule("guarded-both", guard_r=0.83),
    Rule("simple-acceptance"),
)
GAUGES = (ErrorModel(0.004), ErrorModel(0.001, 0.004), ErrorModel(0.0, 0.004), ErrorModel(0.003, 0.002))


@pytest.mark.parametrize(
    ("u", "a"), [(0.004, 0.0), (0.002, 0.004), (0.0001, 0.004), (0.004, 0.0001), (1.0, 2e-6)]
)
def test_error_model_is_the_convolution(u: float, a: float) -> None:
    model = ErrorModel(u, a)
    for error in (-3.0 * u - a, -0.7 * u, 0.0, 0.4 * u, a + u):
        if a == 0.0:
            expected = float(stats.norm.cdf(error / u))
        else:
            area, _ = integrate.quad(
                lambda s, x=error: stats.norm.cdf((x - s) / u), -a, a, epsabs=0.0, epsrel=1e-11
            )
            expected = area / (2.0 * a)
        assert model.cdf(error) == pytest.approx(expected, rel=1e-7, abs=1e-12)


def test_error_model_of_a_bare_rectangle() -> None:
    model = ErrorModel(0.0, 0.004)
    assert [model.cdf(x) for x in (-0.005, -0.002, 0.0, 0.003, 0.005)] == pytest.approx(
        [0, 0.25, 0.5, 0.875, 1]
    )
    assert model.expanded_mm() == pytest.approx(0.95 * 0.004)
    assert model.u_mm == pytest.approx(0.004 / math.sqrt(3.0))


@given(p=st.floats(1e-6, 1.0 - 1e-6), u=st.floats(0.0, 0.01), a=st.floats(1e-5, 0.01))
def test_quantile_turns_the_distribution_round(p: float, u: float, a: float) -> None:
    model = ErrorModel(u, a)
    assert model.cdf(model.quantile(p)) == pytest.approx(p, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.kind)
@pytest.mark.parametrize("errors", GAUGES, ids=repr)
def test_zones_are_where_the_decision_changes(rule: Rule, errors: ErrorModel) -> None:
    zones, big_u = decision_zones(errors, LIMIT, rule), errors.expanded_mm()
    for y in np.linspace(LIMIT - 0.02, LIMIT + 0.02, 201).tolist():
        if min(abs(y - zones.accept_mm), abs(y - zones.reject_mm)) < 1e-9:
            continue
        expected = "within" if y < zones.accept_mm else "over" if y > zones.reject_mm else "unclear"
        measured = Measured(y, big_u, big_u / errors.u_mm, errors.cdf(y - LIMIT))
        assert decide(measured, LIMIT, rule) == expected


def test_chances_add_up_and_the_bound_is_met_on_the_limit() -> None:
    for errors in GAUGES:
        zones = decision_zones(errors, LIMIT, PROOF)
        at = chances(LIMIT, errors, zones)
        assert (at.within, at.over) == pytest.approx((0.05, 0.05), abs=1e-9)
        for x in np.linspace(0.0, 0.02, 21).tolist():
            kept, rejected = chances(LIMIT + x, errors, zones), chances(LIMIT - x, errors, zones)
            assert kept.within + kept.unclear + kept.over == pytest.approx(1.0)
            assert kept.within <= 0.05 + 1e-9
            assert rejected.over <= 0.05 + 1e-9
            assert kept.within == pytest.approx(rejected.over)  # errors are symmetric


@pytest.mark.slow
@pytest.mark.parametrize("errors", GAUGES, ids=repr)
def test_simulated_risk_never_exceeds_the_stated_bound(errors: ErrorModel) -> None:
    trials = 10_000
    slack = 4.0 * math.sqrt(0.05 * 0.95 / trials)  # four standard deviations of the count
    zones = decision_zones(errors, LIMIT, PROOF)
    for i, x in enumerate((0.0, 0.001, 0.004)):
        over = simulate(LIMIT + x, errors, LIMIT, PROOF, trials=trials, seed=100 + i)
        inside = simulate(LIMIT - x, errors, LIMIT, PROOF, trials=trials, seed=200 + i)
        assert over["within"] <= 0.05 + slack
        assert inside["over"] <= 0.05 + slack
        expected = chances(LIMIT + x, errors, zones)
        assert over["within"] == pytest.approx(expected.within, abs=slack)
        assert over["over"] == pytest.approx(expected.over, abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("rule", [PROOF, Rule("guarded-both", guard_r=0.85)], ids=["probability", "guard_r"])
def test_measuring_again_until_it_is_clear_costs_risk_and_spending_it_in_parts_keeps_the_bound(
    rule: Rule,
) -> None:
    errors, trials, bound = ErrorModel(0.004), 10_000, 0.05
    slack = 4.0 * math.sqrt(bound * (1.0 - bound) / trials)

    def at_limit(looks: int, share: float | None) -> dict[Decided, float]:
        return simulate(LIMIT, errors, LIMIT, rule, trials=trials, seed=9, looks=looks, repeat_share=share)

    assert at_limit(3, None)["within"] > bound + slack  # three looks at 5 % each are more than 5 %
    assert at_limit(1, 0.4)["within"] == pytest.approx(0.6 * bound, abs=slack)  # the first look: 3 %
    spent = at_limit(6, 0.4)
    assert spent["within"] <= bound + slack
    assert spent["over"] <= bound + slack
    assert spent["within"] > 0.6 * bound  # and the later looks find what the first left unclear


def test_one_seed_gives_the_same_simulation() -> None:
    runs = [simulate(LIMIT, GAUGES[1], LIMIT, PROOF, trials=500, seed=s, looks=2) for s in (1, 1, 2)]
    assert runs[0] == runs[1] != runs[2]
    assert sum(runs[0].values()) == pytest.approx(1.0)


def test_a_prior_from_records_is_that_of_the_parts() -> None:
    rng = np.random.default_rng(5)
    true = rng.normal(0.18, 0.04, 4000)
    measured = true + rng.normal(0.0, 0.02, 4000)
    zones = decision_zones(ErrorModel(0.02), LIMIT, PROOF)
    from_records = global_risks(records_prior(measured, 0.02), ErrorModel(0.02), zones, LIMIT)
    from_truth = global_risks(normal_prior(0.18, 0.04, (LIMIT,)), ErrorModel(0.02), zones, LIMIT)
    prior = records_prior(measured, 0.02)
    assert prior.points_mm.std() == pytest.approx(0.04, rel=0.05)
    assert from_records.nonconforming == pytest.approx(from_truth.nonconforming, abs=0.003)
    assert from_records.unclear == pytest.approx(from_truth.unclear, rel=0.15)


def test_any_density_is_a_prior() -> None:
    # A gamma density, lopsided as run-outs are; the share over the limit by scipy.
    shape, scale = 9.0, 0.02
    prior = density_prior(
        lambda x: np.asarray(stats.gamma.pdf(x, shape, scale=scale)), 0.0, 1.2, 0.004, (LIMIT,)
    )
    zones = decision_zones(ErrorModel(0.004), LIMIT, PROOF)
    found = global_risks(prior, ErrorModel(0.004), zones, LIMIT)
    assert found.nonconforming == pytest.approx(stats.gamma.sf(LIMIT, shape, scale=scale), rel=1e-9)
    expected, _ = integrate.quad(
        lambda t: stats.gamma.pdf(t, shape, scale=scale) * stats.norm.cdf((zones.accept_mm - t) / 0.004),
        LIMIT,
        LIMIT + 0.05,
        epsabs=1e-13,
    )
    assert found.kept_wrongly == pytest.approx(expected, rel=1e-6)


def test_global_risks_are_shares_of_one_whole() -> None:
    errors = ErrorModel(0.002, 0.004)
    zones = decision_zones(errors, LIMIT, PROOF)
    found = global_risks(normal_prior(0.25, 0.05, (LIMIT,)), errors, zones, LIMIT)
    assert found.rejected_wrongly < found.not_kept_wrongly < 1.0
    assert found.kept_wrongly < 0.05 * found.nonconforming


def test_a_gauge_errs_by_its_step_its_repeatability_and_its_span() -> None:
    found = gauge_errors(0.012, 0.004, 0.003, repeats=2)
    assert found.u_random_mm == pytest.approx(math.sqrt(2.0 * (0.012**2 / 12.0 + 0.003**2) / 2.0))
    assert found.half_width_mm == 0.004  # repeating does not shrink it


def test_what_cannot_be_is_refused() -> None:
    for call in (
        lambda: ErrorModel(0.0, 0.0),
        lambda: ErrorModel(-1.0, 2.0),
        lambda: ErrorModel(math.inf),
        lambda: ErrorModel(1.0).quantile(1.0),
        lambda: normal_prior(0.2, 0.0),
        lambda: density_prior(np.abs, 1.0, 0.0, 0.1),
        lambda: records_prior(np.full(5, 0.2), 0.01),
        lambda: records_prior(np.linspace(0.2, 0.201, 20), 0.01),
        lambda: gauge_errors(0.01, 0.01, repeats=0),
    ):
        with pytest.raises(ValueError, match=r"\w"):
            call()
