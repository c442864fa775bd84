from __future__ import annotations

from itertools import product
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.method import CHECKS
from contract.result import ObservedCheck, SurfaceCheck
from contract.terms import MeasuredOutcome, ObservedOutcome, Outcome
from grading.decision.verdict import reasons_of, verdict_of

MEASURED = ("rim", "face", "thickness")
GOOD = ("within", "good")
ALL: tuple[Outcome, ...] = get_args(Outcome)


def possible(check: str) -> tuple[Outcome, ...]:
    return get_args(MeasuredOutcome) if check in MEASURED else get_args(ObservedOutcome)


def test_every_combination_of_outcomes_has_the_verdict_of_the_design() -> None:
    for outcomes in product(*(possible(check) for check in CHECKS)):
        seen = set(outcomes)
        if seen & {"over", "bad"}:
            expected = "replace"
        elif seen & {"unclear", "invalid"}:
            expected = "measure-again"
        elif "missing" in seen:
            expected = "incomplete"
        else:
            expected = "keep"
        assert verdict_of(dict(zip(CHECKS, outcomes, strict=True))) == expected


@given(st.dictionaries(st.text(min_size=1), st.sampled_from(ALL), min_size=1))
def test_keep_never_comes_from_anything_but_within_and_good(outcomes: dict[str, Outcome]) -> None:
    assert (verdict_of(outcomes) == "keep") == all(outcome in GOOD for outcome in outcomes.values())


@given(
    st.dictionaries(st.sampled_from(CHECKS), st.sampled_from(ALL), min_size=1),
    st.sampled_from(CHECKS),
    st.sampled_from([outcome for outcome in ALL if outcome not in GOOD]),
)
def test_a_worse_check_never_makes_a_verdict_better(
    outcomes: dict[str, Outcome], check: str, worse: Outcome
) -> None:
    order = ["keep", "incomplete", "measure-again", "replace"]
    before = verdict_of({**outcomes, check: "within"})
    assert order.index(verdict_of({**outcomes, check: worse})) >= order.index(before)


def test_nothing_looked_at_is_nothing_to_keep() -> None:
    assert verdict_of({}) == "incomplete"
    assert reasons_of("incomplete", {}) == ("no check is required and none was made",)


@pytest.mark.parametrize(
    ("verdict", "named"),
    [("replace", ["rim"]), ("measure-again", ["face"]), ("incomplete", ["penetrant"]), ("keep", ["visual"])],
)
def test_the_reasons_are_those_of_the_checks_that_decide(verdict: str, named: list[str]) -> None:
    checks = {
        "visual": ObservedCheck(outcome="good", reason="all seen"),
        "rim": SurfaceCheck(outcome="over", reason="too much", limit_mm=0.28),
        "face": SurfaceCheck(outcome="unclear", reason="too near", limit_mm=0.28),
        "penetrant": ObservedCheck(outcome="missing", reason="not looked at yet"),
    }
    reasons = reasons_of(verdict, checks)  # type: ignore[arg-type]  # put together at run time
    assert [reason.split(":")[0] for reason in reasons] == named
