"""Reasons in the words of the engineer who owns the method; the reason itself is never lost in them."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from config.method import Method
from grading.assess import assess, judge
from tests.grading.samples import EXAMPLE, inspection, observed

WORDS = "{reason}. Ask the service engineer."


def method(wording: dict[str, Any]) -> Method:
    return Method.model_validate({**EXAMPLE.as_data(), "wording": wording})


def test_a_reason_is_said_in_them_for_that_outcome_only() -> None:
    bad = observed("visual", leak="bad")
    own = method({"visual": {"bad": WORDS}})
    plain = judge("visual", [bad], EXAMPLE)
    assert judge("visual", [bad], own).reason == f"{plain.reason}. Ask the service engineer."
    assert judge("visual", [observed("visual")], own) == judge("visual", [observed("visual")], EXAMPLE)


def test_they_stand_in_the_verdicts_reasons() -> None:
    result = assess(inspection({}, scope="bench"), method({"thickness": {"missing": WORDS}}))
    assert "thickness: not measured yet. Ask the service engineer." in result.reasons


@pytest.mark.parametrize("text", ["Ask the service engineer.", "{Reason} is missing", ""])
def test_words_without_the_reason_are_a_mistake(text: str) -> None:
    with pytest.raises(ValidationError):
        method({"rim": {"over": text}})
