from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contract.document import encode
from contract.result import Result
from contract.terms import Scope
from grading.assess import assess
from grading.evidence import Attempt, Observed
from tests.grading.samples import EXAMPLE, FINE, everything_fit, inspection, observed, sweep, thickness

FIT = everything_fit()
# Per check: attempts that are not fit to keep a damper on.
UNFIT: dict[str, list[tuple[Attempt, ...]]] = {
    "visual": [(), (observed("visual", leak="bad"),), (observed("visual", paint="not seen"),)],
    "rim": [(), (sweep(0.17),), (sweep(0.1398),), (sweep(0.09, covered_deg=200.0),)],
    "face": [(), (sweep(0.17, surface="face"),), (sweep(0.09, surface="face", readings=5),)],
    "visual-bench": [(), (observed("visual-bench", rim="bad"),)],
    "thickness": [(), (thickness([25.0, 25.4, *[25.1] * 6]),), (thickness([25.0] * 7),)],
    "penetrant": [(), (observed("penetrant", rim="bad"),), (observed("penetrant", cleaned="bad"),)],
    "warm-leak": [(), (observed("warm-leak", soak="bad"),), (observed("warm-leak", plugs="not seen"),)],
}


def test_a_damper_that_passes_everything_is_kept_and_due_again() -> None:
    result = assess(inspection(FIT), EXAMPLE)
    assert result.verdict == "keep"
    assert [reason.split(":")[0] for reason in result.reasons] == [
        "visual", "rim", "face", "visual-bench", "thickness", "penetrant", "warm-leak",
    ]  # fmt: skip
    assert result.next_due is not None
    due = result.next_due
    assert (due.distance_km, due.hours_h, due.date) == (300_000.0, 8_000.0, "2027-03-02")


@pytest.mark.slow
def test_one_that_its_signer_would_not_keep_is_due_for_nothing() -> None:
    result = assess(inspection(FIT, decision="replace"), EXAMPLE)
    assert (result.verdict, result.decision, result.next_due) == ("keep", "replace", None)


@pytest.mark.slow
@settings(max_examples=25)
@given(st.data())
def test_a_damper_is_never_kept_while_any_check_is_not_fit(data: st.DataObject) -> None:
    spoilt = data.draw(st.sets(st.sampled_from(sorted(UNFIT)), min_size=1))
    attempts = {**FIT, **{check: data.draw(st.sampled_from(UNFIT[check])) for check in spoilt}}
    result = assess(inspection({name: made for name, made in attempts.items() if made}), EXAMPLE)
    assert result.verdict != "keep"
    assert result.next_due is None
    named = {reason.split(":")[0] for reason in result.reasons}
    assert named
    assert named <= spoilt


@pytest.mark.parametrize(
    ("scope", "checks"),
    [
        ("on-engine", ["visual", "rim", "face"]),
        ("bench", ["visual-bench", "thickness", "penetrant", "warm-leak"]),
        ("both", ["visual", "rim", "face", "visual-bench", "thickness", "penetrant", "warm-leak"]),
    ],
)
def test_the_scope_says_which_checks_are_missing(scope: Scope, checks: list[str]) -> None:
    result = assess(inspection({}, scope=scope), EXAMPLE)
    assert result.verdict == "incomplete"
    assert {name: check.outcome for name, check in result.checks.by_name().items()} == dict.fromkeys(
        checks, "missing"
    )


def test_a_check_that_was_made_counts_though_the_scope_does_not_ask_for_it() -> None:
    attempts = {"warm-leak": (observed("warm-leak", joint="bad"),)}
    result = assess(inspection(attempts, scope="on-engine"), EXAMPLE)
    assert result.verdict == "replace"
    assert result.reasons == ("warm-leak: found bad: joint",)


def test_a_damper_over_its_limit_is_replaced_whatever_else_is_missing() -> None:
    result = assess(inspection({"rim": (sweep(0.17),)}), EXAMPLE)
    assert result.verdict == "replace"
    assert result.reasons[0].startswith("rim: true TIR 0.340 mm")


@pytest.mark.slow
def test_the_same_evidence_gives_the_same_bytes() -> None:
    evidence = inspection({"rim": (sweep(0.09), sweep(0.09, seed=2)), "thickness": (thickness(),)})
    assert encode(assess(evidence, EXAMPLE)) == encode(assess(evidence, EXAMPLE))


@pytest.mark.parametrize(
    ("attempts", "message"),
    [
        ({"mood": ()}, "there is no check mood"),
        ({"rim": (Observed(()),)}, "rim: an attempt of another kind"),
        ({"rim": (sweep(0.09, surface="face"),)}, "rim: an attempt of another kind"),
        ({"visual": (thickness(),)}, "visual: an attempt of another kind"),
    ],
)
def test_evidence_that_fits_no_check_is_an_error(attempts: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        assess(inspection(attempts), EXAMPLE)


def test_who_signed_and_when_is_in_the_document() -> None:
    signed = inspection({}, state="signed", signed="2026-03-02T08:00:00.000Z", signed_by="R. Example")
    result = assess(signed, EXAMPLE)
    assert (result.state, result.signed, result.signed_by) == (
        "signed",
        "2026-03-02T08:00:00.000Z",
        "R. Example",
    )


SECOND = replace(FINE, id="indicator-2")


def of_rim_and_face(rim: Attempt, face: Attempt) -> Result:
    return assess(inspection({**FIT, "rim": (rim,), "face": (face,)}), EXAMPLE)


@pytest.mark.parametrize("seed", [2, 3])
def test_an_indicator_left_on_the_rim_has_not_read_the_face(seed: int) -> None:
    result = of_rim_and_face(sweep(0.06), sweep(0.06, surface="face", seed=seed))
    assert result.verdict == "measure-again"
    face = result.checks.face
    assert face is not None
    assert face.outcome == "unclear"
    assert face.reason.startswith(
        "the face reads as the rim did, to 0.000 mm all around: set the indicator on"
    )


@pytest.mark.parametrize(
    "face",
    [
        sweep(0.06, surface="face", seed=2, high_deg=46.0),  # its crest lies elsewhere
        sweep(0.066, surface="face", seed=2),  # it goes further
        # An indicator of its own, and another surface under it.
        sweep(0.06, surface="face", seed=2, gauge=SECOND, high_deg=71.0),
    ],
)
def test_a_face_much_like_the_rim_is_a_face(face: Attempt) -> None:
    assert of_rim_and_face(sweep(0.06), face).verdict == "keep"


@pytest.mark.parametrize("high_deg", [41.0, 221.0, 218.0])
def test_two_indicators_that_both_stand_on_the_face_have_not_read_the_rim(high_deg: float) -> None:
    """Side by side, or half a turn apart, as they stand for one face."""
    rim, face = sweep(0.06), sweep(0.06, surface="face", seed=2, gauge=SECOND, high_deg=high_deg)
    result = of_rim_and_face(rim, face)
    assert result.verdict == "measure-again"
    for check in (result.checks.rim, result.checks.face):
        assert check is not None
        assert check.outcome == "unclear"
        assert "see that one indicator stands on the rim and the other on the face" in check.reason


@pytest.mark.parametrize(("high_deg", "outcome"), [(44.0, "unclear"), (56.0, "within")])
def test_from_mark_to_mark_a_crest_is_known_less_well(high_deg: float, outcome: str) -> None:
    rim, face = sweep(0.06), sweep(0.06, surface="face", seed=2, high_deg=high_deg)
    result = of_rim_and_face(*(replace(one, angles_run_on=True) for one in (rim, face)))
    assert result.checks.face is not None
    assert result.checks.face.outcome == outcome


def test_surfaces_that_hardly_move_may_be_alike() -> None:
    assert of_rim_and_face(sweep(0.02), sweep(0.02, surface="face", seed=2)).verdict == "keep"


def test_a_face_that_is_over_stays_so() -> None:
    assert of_rim_and_face(sweep(0.17), sweep(0.17, surface="face", seed=2)).verdict == "replace"
