"""Limits by kind of damper, and a damper that does not belong on its engine, in the verdict."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.method import Method
from config.programme import DamperLimits, RatingRange, Suitability
from contract.result import Result
from grading.assess import assess
from tests.grading.samples import EXAMPLE, everything_fit, inspection

# A rubber damper's outer ring may move 2.03 mm: public military technical manual, crankshaft damper section.
RUBBER = DamperLimits(family="rubber", rim_mm=2.03)
WELDED = DamperLimits(family="viscous", construction="welded", rim_mm=0.2, face_mm=0.2)
KINDS = EXAMPLE.model_copy(
    update={"damper": (RUBBER, WELDED), "suitability": Suitability(family=("viscous", "rubber"))}
)
EDGES = EXAMPLE.model_copy(
    update={"suitability": Suitability(construction={"rolled": RatingRange(most_kw=300.0)})}
)


def limits(method: Method) -> tuple[float, float, float]:
    return method.rim.limit_mm, method.face.limit_mm, method.thickness.limit_mm


@pytest.mark.parametrize(
    ("family", "construction", "rim_mm", "face_mm"),
    [
        ("rubber", None, 2.03, 0.28),
        ("rubber", "welded", 2.03, 0.28),
        ("viscous", "welded", 0.2, 0.2),
        ("viscous", "rolled", 0.28, 0.28),
        ("viscous", None, 0.2, 0.2),  # it may be a welded one
        (None, "welded", 0.2, 0.2),
        (None, None, 0.2, 0.2),
        (None, "rolled", 0.28, 0.28),  # a rubber one would be allowed more: it may be none
    ],
)
def test_what_is_not_known_is_judged_by_the_strictest(
    family: str | None, construction: str | None, rim_mm: float, face_mm: float
) -> None:
    assert limits(KINDS.of_damper(family, construction)) == (rim_mm, face_mm, 0.25)


kinds = st.builds(
    DamperLimits,
    family=st.sampled_from(["viscous", "rubber"]),
    construction=st.sampled_from([None, "rolled", "welded"]),
    rim_mm=st.floats(0.01, 3.0),
)


@given(
    st.lists(kinds, max_size=5), st.sampled_from(["viscous", "rubber"]), st.sampled_from(["rolled", "welded"])
)
def test_knowing_less_never_allows_more(damper: list[DamperLimits], family: str, construction: str) -> None:
    method = EXAMPLE.model_copy(update={"damper": tuple(damper)})
    known = method.of_damper(family, construction).rim.limit_mm
    for less in ((None, construction), (family, None), (None, None)):
        assert method.of_damper(*less).rim.limit_mm <= known


def graded(method: Method, damper: dict[str, Any], rating_kw: float | None = None) -> Result:
    header = {"damper": {"serial": "GQ-D-0815", **damper}}
    if rating_kw is not None:
        header["engine"] = {"serial": "GQ-E-2207", "rating_kw": rating_kw}
    return assess(inspection(everything_fit(), **header), method)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("damper", "rating_kw", "verdict", "outcome", "words"),
    [
        ({"construction": "rolled"}, 300.0, "keep", None, ""),
        ({"construction": "rolled"}, 301.0, "replace", "bad", "suits engines up to 300 kW"),
        ({"construction": "welded"}, None, "keep", None, ""),
        ({}, 250.0, "incomplete", "missing", "look at its edge"),
        ({"construction": "Rolled"}, 301.0, "incomplete", "missing", "look at its edge"),
        ({"construction": "rolled"}, None, "incomplete", "missing", "rating is not on record"),
        ({"family": "rubber"}, 250.0, "measure-again", "invalid", "the method is for viscous ones"),
    ],
)
def test_one_that_does_not_belong_is_a_reason(
    damper: dict[str, Any], rating_kw: float | None, verdict: str, outcome: str | None, words: str
) -> None:
    result = graded(EDGES, damper, rating_kw)
    assert result.verdict == verdict
    found = result.checks.suitability
    assert (found and found.outcome) == outcome
    assert not words or any(r.startswith("suitability: ") and words in r for r in result.reasons)
    assert result.method.sha256 == EDGES.sha256()  # of the method, not of what a damper makes of it


@pytest.mark.slow
def test_an_edge_in_words_of_ones_own_is_not_known() -> None:
    result = graded(KINDS, {"family": "viscous", "construction": "Welded"})
    assert result.checks.rim is not None
    assert result.checks.rim.limit_mm == 0.2


@pytest.mark.slow
def test_the_limit_in_the_result_is_that_of_its_kind() -> None:
    result = graded(KINDS, {"family": "rubber"})
    assert result.checks.rim is not None
    assert result.checks.rim.limit_mm == 2.03


def test_limits_of_nothing_or_of_none_are_mistakes() -> None:
    with pytest.raises(ValueError, match="family or construction is needed"):
        DamperLimits(rim_mm=1.0)
    with pytest.raises(ValueError, match="one of rim_mm, face_mm and thickness_mm"):
        DamperLimits(family="rubber")
