"""Decision rules near a limit: where the outcome changes, and when repeats resolve it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.method import Decision
from grading.decision.decision import (
    REPEATS_MAX,
    Measured,
    Rule,
    acceptance_limit_mm,
    after_looks,
    decide,
    is_open_below,
    p_over,
    rejection_limit_mm,
    repeats_needed,
)
from grading.decision.sentences import decided
from grading.statistics.distributions import normal_quantile

LIMIT = 0.28
SIMPLE = Rule("simple-acceptance")
ACCEPT = Rule("guarded-acceptance", guard_r=1.0)
REJECT = Rule("guarded-rejection", guard_r=1.0)
BOTH = Rule("guarded-both", guard_r=1.0)
PROOF = Rule("guarded-both", probability=0.95)


@pytest.mark.parametrize(
    ("y", "simple", "accept", "reject", "both"),
    [
        (0.250, "within", "within", "within", "within"),
        (0.2599, "within", "within", "within", "within"),
        (0.2601, "within", "unclear", "within", "unclear"),
        (0.280, "within", "unclear", "within", "unclear"),
        (0.2801, "over", "over", "unclear", "unclear"),
        (0.2999, "over", "over", "unclear", "unclear"),
        (0.3001, "over", "over", "over", "over"),
    ],
)
def test_outcomes_along_the_scale(y: float, simple: str, accept: str, reject: str, both: str) -> None:
    measured = Measured(y, 0.02)
    found = tuple(decide(measured, LIMIT, rule) for rule in (SIMPLE, ACCEPT, REJECT, BOTH))
    assert found == (simple, accept, reject, both)


def test_a_figure_on_an_acceptance_limit_is_within_and_on_a_rejection_limit_over() -> None:
    for rule in (ACCEPT, BOTH):
        assert decide(Measured(acceptance_limit_mm(rule, LIMIT, 0.02), 0.02), LIMIT, rule) == "within"
    for rule in (REJECT, BOTH):
        assert decide(Measured(rejection_limit_mm(rule, LIMIT, 0.02), 0.02), LIMIT, rule) == "over"


def test_the_actual_distribution_decides_where_it_is_given() -> None:
    # A lopsided figure: by y and U alone it would be accepted, its own tail says otherwise.
    assert decide(Measured(0.26, 0.02), LIMIT, PROOF) == "within"
    assert decide(Measured(0.26, 0.02, p_over=0.08), LIMIT, PROOF) == "unclear"
    assert decide(Measured(0.29, 0.02, p_over=0.97), LIMIT, PROOF) == "over"
    assert p_over(Measured(0.26, 0.02, p_over=0.08), LIMIT) == 0.08


@given(
    st.floats(0.1, 0.5),
    st.floats(0.001, 0.1),
    st.sampled_from([0.8, 0.9, 0.95, 0.99]),
    st.sampled_from([0.6, 0.95, 0.99]),
    st.booleans(),
)
def test_no_interval_of_a_normal_or_rectangular_figure_leaves_open_what_is_over(
    y: float, a: float, p: float, coverage: float, is_normal: bool
) -> None:
    """a: standard deviation, or half width."""
    tail = 0.5 + coverage / 2
    big_u = a * (normal_quantile(tail) if is_normal else coverage)
    over = (
        1 - 0.5 * math.erfc((y - LIMIT) / a / 2**0.5)
        if is_normal
        else min(max(0.5 + (y - LIMIT) / (2 * a), 0.0), 1.0)
    )
    figure = Measured(y, big_u, 2.0, over)
    rule = Rule("guarded-both", probability=p)
    if decide(figure, LIMIT, rule) == "over":
        assert not is_open_below(figure, LIMIT, rule, coverage)


def test_a_long_way_up_leaves_it_open() -> None:
    rule = Rule("guarded-both", probability=0.95)
    assert is_open_below(Measured(0.381, 0.227, 2.0, 0.9995), 0.28, rule)
    assert not is_open_below(Measured(0.381, 0.1, 2.0, 0.9995), 0.28, rule)
    assert not is_open_below(Measured(0.381, 0.227, 2.0, 0.9995), 0.28, Rule("simple-acceptance"))


def test_a_figure_without_uncertainty_is_decided_by_itself() -> None:
    assert [decide(Measured(y, 0.0), LIMIT, PROOF) for y in (0.28, 0.2801)] == ["within", "over"]
    assert [decide(Measured(y, 0.0), LIMIT, BOTH) for y in (0.28, 0.2801)] == ["within", "over"]


@given(
    y=st.floats(0.0, 1.0),
    u=st.floats(1e-6, 0.2),
    rule=st.sampled_from([SIMPLE, ACCEPT, REJECT, BOTH, PROOF, Rule("guarded-acceptance", probability=0.9)]),
)
def test_more_run_out_never_gives_a_better_outcome(y: float, u: float, rule: Rule) -> None:
    order = {"within": 0, "unclear": 1, "over": 2}
    assert order[decide(Measured(y, u), LIMIT, rule)] <= order[decide(Measured(y + 0.001, u), LIMIT, rule)]


@given(y=st.floats(0.0, 1.0), u=st.floats(1e-6, 0.2), p=st.floats(0.51, 0.999))
def test_a_rule_by_probability_is_the_guard_band_of_a_normal_figure(y: float, u: float, p: float) -> None:
    rule = Rule("guarded-both", probability=p)
    edges = acceptance_limit_mm(rule, LIMIT, u), rejection_limit_mm(rule, LIMIT, u)
    if min(abs(y - edge) for edge in edges) > 1e-9:
        expected = "within" if y < edges[0] else "over" if y > edges[1] else "unclear"
        assert decide(Measured(y, u), LIMIT, rule) == expected


def needed(y: float, random: float, systematic: float, done: int = 1, rule: Rule = BOTH) -> int | None:
    u = math.hypot(systematic, random / math.sqrt(done))
    return repeats_needed(
        Measured(y, 2.0 * u), LIMIT, rule, u_random_mm=random, u_systematic_mm=systematic, done=done
    )


def test_how_many_repeats_would_resolve() -> None:
    assert needed(0.20, 0.01, 0.0) == 0  # clear already
    # distance 0.01, guard 2 u: u must come to 0.005; 0.01 / sqrt(4) does it, so 3 more than one
    assert needed(0.27, 0.01, 0.0) == 3
    # 0.005^2 - 0.003^2 = 0.004^2: 0.01 / 0.004 squared is 6.25, so 7 in all
    assert needed(0.27, 0.01, 0.003) == 6
    assert needed(0.29, 0.01, 0.003, done=2) == 5
    assert needed(0.27, 0.01, 0.005) is None  # the systematic part alone fills the guard band
    assert needed(0.28, 0.01, 0.0) is None  # exactly on the limit nothing helps
    assert needed(0.2799, 0.01, 0.0) is None  # more than anyone takes
    assert REPEATS_MAX < 40_000


@given(
    y=st.floats(0.255, 0.305),
    random=st.floats(1e-4, 0.02),
    systematic=st.floats(0.0, 0.01),
    done=st.integers(1, 5),
    rule=st.sampled_from([ACCEPT, REJECT, BOTH, PROOF]),
)
def test_that_many_repeats_resolve_and_one_fewer_does_not(
    y: float, random: float, systematic: float, done: int, rule: Rule
) -> None:
    more = needed(y, random, systematic, done, rule)

    def outcome(n: int) -> str:
        return decide(Measured(y, 2.0 * math.hypot(systematic, random / math.sqrt(n))), LIMIT, rule)

    if more is None:
        assert outcome(done + REPEATS_MAX) == "unclear"
    elif more > 0:
        assert outcome(done) == "unclear"
        assert outcome(done + more + 1) != "unclear"  # one to spare for the last bit of rounding
        assert more == 1 or outcome(done + more - 1) == "unclear"


def test_rules_that_do_not_fit_together_are_refused() -> None:
    for kind, guard_r, probability in (
        ("simple-acceptance", 1.0, None),
        ("guarded-both", None, None),
        ("guarded-both", 1.0, 0.95),
        ("guarded-acceptance", -0.1, None),
        ("guarded-rejection", None, 0.5),
        ("guarded-rejection", None, 1.0),
    ):
        with pytest.raises(ValueError, match=r"guard_r|probability"):
            Rule(kind, guard_r, probability)  # type: ignore[arg-type]  # put together at run time


def test_figures_that_are_none_are_refused() -> None:
    for y, big_u, k, p in (
        (math.nan, 0.1, 2.0, None),
        (0.1, -0.1, 2.0, None),
        (0.1, 0.1, 0.0, None),
        (0.1, 0.1, 2.0, 1.1),
    ):
        with pytest.raises(ValueError, match=r"must"):
            Measured(y, big_u, k, p)
    with pytest.raises(ValueError, match="at least one repeat"):
        repeats_needed(Measured(0.28, 0.01), LIMIT, BOTH, u_random_mm=0.01, u_systematic_mm=0.0, done=0)


def test_all_looks_together_keep_the_bound() -> None:
    """Bonferroni: the parts of the chance that single looks may spend add up to no more than all of it."""
    rule = Rule("guarded-both", probability=0.95)
    parts = [1.0 - (after_looks(rule, n, 0.4).probability or 0.0) for n in range(1, 30)]
    assert parts[0] == pytest.approx(0.03)
    assert parts[1] == pytest.approx(0.01)
    assert sum(parts) == pytest.approx(0.05, rel=1e-6)
    assert after_looks(rule, 1, 0.0) == rule


def test_a_guard_band_grows_as_the_chance_is_spent() -> None:
    """One sided, a band of 1 U (k = 2) leaves 2.275 % (normal table); half of that needs z = 2.278."""
    grown = after_looks(Rule("guarded-acceptance", guard_r=1.0), 1, 0.5)
    assert grown.guard_r == pytest.approx(2.278 / 2, abs=5e-4)
    assert after_looks(Rule("simple-acceptance"), 3, 0.4) == Rule("simple-acceptance")


@pytest.mark.slow
def test_looking_until_it_is_clear_is_wrong_no_more_often_than_the_rule_says() -> None:
    """A figure just over its limit, normal errors, looked at up to five times with pooled means."""
    rng = np.random.default_rng(11)
    rule, limit, wrong, plain, runs = Rule("guarded-both", probability=0.95), 0.28, 0, 0, 4000
    for _ in range(runs):
        readings = limit + 1e-9 + rng.normal(0.0, 0.01, 5)
        for which in ("spent", "plain"):
            for n in range(1, 6):
                y, u = float(np.mean(readings[:n])), 0.01 / n**0.5
                used = after_looks(rule, n, 0.4) if which == "spent" else rule
                outcome = decide(Measured(y, 2 * u), limit, used)
                if outcome != "unclear":
                    wrong += which == "spent" and outcome == "within"
                    plain += which == "plain" and outcome == "within"
                    break
    assert wrong / runs <= 0.05
    assert plain / runs > 0.08


@pytest.mark.parametrize(
    ("y_mm", "said"), [(0.278, "too near to call against"), (0.176, "not sure enough to hold against")]
)
def test_far_from_the_limit_is_never_called_too_near(y_mm: float, said: str) -> None:
    decision = Decision(rule="guarded-both", probability=0.95)
    assert said in decided("true TIR", "unclear", Measured(y_mm, 0.008), LIMIT, decision, looks=1)
