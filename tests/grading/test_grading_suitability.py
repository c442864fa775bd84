from __future__ import annotations

import pytest

from config.programme import RatingRange, Suitability
from contract.terms import Construction
from grading.programme.suitability import unsuitable

RULES = Suitability(
    construction={"rolled": RatingRange(most_kw=300.0), "welded": RatingRange(least_kw=250.0)}
)


@pytest.mark.parametrize(
    ("construction", "rating_kw", "said"),
    [
        ("rolled", 300.0, None),
        (
            "rolled",
            300.5,
            "a rolled edge suits engines up to 300 kW by the method, and this one has 300.5 kW",
        ),
        ("welded", 250.0, None),
        (
            "welded",
            249.0,
            "a welded edge suits engines from 250 kW on by the method, and this one has 249 kW",
        ),
        (None, 300.0, "construction is not on record, and the method asks for it: look at its edge"),
        ("rolled", None, "rating is not on record"),
    ],
)
def test_by_the_edge_and_the_rating(
    construction: Construction | None, rating_kw: float | None, said: str | None
) -> None:
    found = unsuitable(RULES, family="viscous", construction=construction, rating_kw=rating_kw)
    assert found is None if said is None else found is not None and said in found.reason


def test_a_construction_that_the_method_does_not_name_suits_all() -> None:
    rules = Suitability(construction={"rolled": RatingRange(most_kw=300.0)})
    assert unsuitable(rules, family="viscous", construction="welded", rating_kw=None) is None


def test_without_rules_only_the_family_is_asked_for() -> None:
    assert unsuitable(Suitability(), family="viscous", construction=None, rating_kw=None) is None
    assert unsuitable(Suitability(), family=None, construction=None, rating_kw=None) is None
    found = unsuitable(Suitability(), family="rubber", construction=None, rating_kw=None)
    assert found is not None
    assert (found.outcome, found.reason) == ("invalid", "a rubber damper, and the method is for viscous ones")


def test_bounds_that_cross_or_bound_nothing_are_mistakes() -> None:
    with pytest.raises(ValueError, match="must not be above"):
        RatingRange(least_kw=300.0, most_kw=200.0)
    with pytest.raises(ValueError, match="one of least_kw and most_kw"):
        RatingRange()
