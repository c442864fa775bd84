"""What a report says, whatever it is set in."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contract.lengths import UNITS
from contract.terms import Decision, MeasuredOutcome, State
from grading.decision.verdict import verdict_of
from records.errors import ReportContradictsError, ReportError
from records.report.content import Source, compose, read_result
from records.report.page import Blanks, Facts, Items, Lines, Page, Pictures, Section, Table
from tests.records.reported import FACE, RESULT, RIM, THICKNESS, VISUAL, a_document, bare, replaced, unsigned

MM, INCH = UNITS["mm"], UNITS["in"]


def page(document: bytes, **more: object) -> Page:
    # Put together at run time.
    return compose(replace(Source(document), **more), MM)  # type: ignore[arg-type]


def section(of: Page, heading: str) -> Section:
    (found,) = (one for one in of.sections if one.heading.startswith(heading))
    return found


def table(of: Page, heading: str, number: int = 0) -> list[list[str]]:
    tables = [block for block in section(of, heading).blocks if isinstance(block, Table)]
    return [[cell.text for cell in row] for row in tables[number].rows]


def lines(of: Page, heading: str) -> str:
    blocks = section(of, heading).blocks
    return "\n".join(line for block in blocks if isinstance(block, Lines) for line in block.lines)


def facts(of: Page, heading: str) -> dict[str, str]:
    found = [block for block in section(of, heading).blocks if isinstance(block, Facts)]
    return dict(found[0].pairs)


@pytest.mark.parametrize(
    ("document", "large", "notice", "tone"),
    [
        (a_document(), "KEEP", None, "plain"),
        (replaced(), "REPLACE", None, "dark"),
        (unsigned("closed"), "KEEP", "NOT SIGNED", "plain"),
        (unsigned("open"), "NOT FINISHED", "NOT SIGNED", "grey"),
        (unsigned("abandoned"), "ABANDONED", "NO VERDICT", "grey"),
        (bare(), "NOT FINISHED", "NOT SIGNED", "grey"),
    ],
)
def test_the_large_words_say_verdict_and_state(
    document: bytes, large: str, notice: str | None, tone: str
) -> None:
    made = page(document)
    assert (made.headline, made.notice, made.tone) == (large, notice, tone)


OUTCOMES = st.sampled_from(get_args(MeasuredOutcome))


@pytest.mark.slow
@given(
    rim=OUTCOMES, face=OUTCOMES, state=st.sampled_from(get_args(State)), newer=st.booleans(),
    claimed=st.sampled_from(("keep", "replace", "measure-again", "incomplete")),
    decision=st.sampled_from((None, *get_args(Decision))),
)  # fmt: skip
def test_keep_is_large_only_where_it_is_what_all_checks_say(
    rim: str, face: str, state: str, newer: bool, claimed: str, decision: str | None
) -> None:
    checks = {"visual": VISUAL, "rim": {**RIM, "outcome": rim}, "face": {**FACE, "outcome": face}}
    document = a_document(state=state, checks=checks, verdict=claimed, decision=decision)
    outcomes = {name: check["outcome"] for name, check in checks.items()}
    if verdict_of(outcomes) != claimed:
        with pytest.raises(ReportContradictsError):
            page(document)
        return
    made = page(document, latest=7 if newer else 6)
    settled = state in ("closed", "signed") and not newer
    agreed = decision in (None, claimed)
    assert (made.headline == "KEEP") == (rim == face == "within" and settled and agreed)
    assert (made.notice is None) == (state == "signed" and not newer and agreed)
    assert (made.tone == "plain") == (made.headline == "KEEP")
    if settled and not agreed:
        assert made.headline.startswith("VERDICT: ")
        assert made.notice == f"SIGNED AS: {(decision or '').replace('-', ' ').upper()}"


def test_a_verdict_that_its_checks_contradict_is_refused_as_a_no() -> None:
    altered = a_document(checks={"rim": {**RIM, "outcome": "over"}})
    with pytest.raises(
        ReportContradictsError, match="says keep, and its checks add up to replace"
    ) as refused:
        page(altered)
    assert refused.value.exit_code == 1


def test_a_revision_that_was_replaced_says_so_and_is_not_to_be_signed() -> None:
    made = page(unsigned("closed"), latest=7)
    assert (made.headline, made.notice, made.tone) == ("SUPERSEDED", "BY REVISION 7", "grey")
    assert "closed, superseded" in made.foot
    assert not any(isinstance(block, Blanks) for block in section(made, "Signature").blocks)
    assert "revision 7 replaces it" in lines(made, "Signature")


def test_every_check_stands_with_figure_limit_and_outcome() -> None:
    assert table(page(replaced()), "Checks") == [
        ["By eye, on the engine", "1 of 3 good, 1 bad", "–", "–", "BAD"],
        ["Rim: radial run-out", "0.342 ± 0.008 (95 %)", "0.280", "0.345", "OVER THE LIMIT"],
        ["Face: axial run-out, wobble", "–", "0.280", "–", "MISSING"],
        ["Casing: spread of thickness", "0.187 ± 0.045 (95 %)", "0.250", "0.190", "within the limit"],
    ]
    strong = section(page(replaced()), "Checks").blocks[0]
    assert isinstance(strong, Table)
    assert [row[-1].strong for row in strong.rows] == [True, True, True, False]


def test_what_is_not_judged_is_no_figure() -> None:
    invalid = {**RIM, "outcome": "invalid", "reason": "the plunger did not follow"}
    made = page(a_document(checks={"rim": invalid, "face": FACE}, verdict="measure-again"))
    assert table(made, "Checks")[0][1:] == ["not judged", "0.280", "0.190", "INVALID"]


def test_inches_are_the_same_lengths() -> None:
    made = compose(Source(a_document()), INCH)
    assert table(made, "Checks")[1][1:4] == ["0.0073 ± 0.0003 (95 %)", "0.0110", "0.0075"]
    assert table(made, "Method")[0][3:5] == ["0.000039 in", "0.000157 in"]
    (pictures,) = (b for b in section(made, "Where").blocks if isinstance(b, Pictures))
    assert "0.0073 ± 0.0003" in pictures.pictures[0].svg
    assert "true TIR, in" in pictures.pictures[0].svg


def test_sentences_follow_the_unit_and_what_people_wrote_does_not() -> None:
    reason = "the sweeps disagree (0.310, 0.205 mm)"
    rim = {**RIM, "outcome": "unclear", "reason": reason, "warnings": ["by 0.05 mm"]}
    document = a_document(
        checks={"rim": rim, "face": FACE}, verdict="measure-again", remark="a scratch of 2 mm",
        reasons=[f"rim: {reason}"],
    )  # fmt: skip
    made = compose(Source(document), INCH)
    assert "Rim: the sweeps disagree (0.0122, 0.0081 in)" in lines(made, "Reasons")
    assert "Rim: note: by 0.0020 in" in lines(made, "Reasons")
    assert made.document == document
    assert "a scratch of 2 mm" in str(made.sections)


def test_reasons_come_first_and_then_what_else_is_not_settled() -> None:
    said = lines(page(replaced()), "Reasons").split("\n")
    assert len(said) == 27
    assert said[0].startswith("Rim: reason 1:")
    assert said[24:] == [
        "By eye, on the engine: all 3 items seen and good",
        "Face: not done yet",
        "Rim: note: the calibration of indicator-1 was due on 2026-06-01",
    ]


LEAK = "No silicone fluid on or below the damper"
TACKY = "fluid on the lower half, tacky, no smell of oil"


def seen(of: Page) -> tuple[str, list[list[str]], tuple[str, ...]]:
    """Of the first check by eye: its count, the items of which there is something to tell, the others."""
    first = section(of, "Seen by eye").blocks[0]
    assert isinstance(first, Items)
    rows = first.rows.rows if first.rows is not None else ()
    return first.count, [[cell.text for cell in row] for row in rows], first.good


def test_each_item_stands_as_it_was_seen() -> None:
    assert seen(page(replaced())) == (
        "1 of 3 good, 1 bad",
        [
            [f"leak: not so: {LEAK}", "BAD", TACKY],
            ["Paint neither blistered nor discoloured", "NOT SEEN", "dusty"],
        ],
        ("No dents or tool marks in the casing",),
    )
    warm = {"outcome": "invalid", "reason": "soak cut short", "items": [
        {"item": "soak", "seen": "bad", "time_min": 12.0}, {"item": "temperature", "seen": "good",
         "temperature_c": 90.5}]}  # fmt: skip
    made = page(a_document(checks={"warm-leak": warm}, verdict="measure-again"))
    told = [["soak", "BAD", "12 min"], ["temperature", "good", "90.5 °C"]]
    assert seen(made) == ("1 of 2 good, 1 bad", told, ())


def test_what_is_bad_stands_before_the_reasons_too() -> None:
    made = page(replaced())
    assert table(made, "Seen and bad") == [["By eye, on the engine", f"leak: not so: {LEAK}", TACKY]]
    order = [one.heading for one in made.sections]
    assert order.index("Seen and bad") < order.index("Reasons") < order.index("Seen by eye")
    assert "Seen and bad" not in [one.heading for one in page(a_document()).sections]


def test_what_is_good_by_eye_is_one_reason_and_none_is_lost() -> None:
    eye = "By eye, on the engine: all 3 items seen and good; By eye, on the bench: all 3 items seen and good"
    checks = {"visual": VISUAL, "rim": RIM, "face": FACE, "visual-bench": VISUAL}
    made = page(a_document(checks=checks, reasons=[*RESULT["reasons"], f"visual-bench: {VISUAL['reason']}"]))
    told = [f"Rim: {RIM['reason']}", f"Face: {FACE['reason']}", eye]
    assert lines(made, "Reasons").split("\n") == told


def test_the_pictures_say_what_they_are_drawn_of_and_where_to_bar_to() -> None:
    made = page(a_document(checks={"rim": RIM, "thickness": THICKNESS}))
    (pictures,) = (b for b in section(made, "Where").blocks if isinstance(b, Pictures))
    rim, casing = pictures.pictures
    assert rim.caption == (
        "High spot at 41°: bar to this angle and the high spot is under the plunger. "
        "Drawn from the harmonics of the result: the readings are not at hand."
    )
    assert "high spot at crank angle 41°" in rim.alt
    assert "station 180°: outer 40.080, inner 40.110" in casing.alt
    assert "Seen from the front" in lines(made, "Where")


def test_many_stations_become_a_table() -> None:
    stations = [
        {"station_deg": 30.0 * n, "outer_mm": 40.0, "inner_mm": 40.1, "taper_mm": -0.1} for n in range(12)
    ]
    made = page(a_document(checks={"thickness": {**THICKNESS, "stations": stations}}))
    assert table(made, "Where")[11] == ["330°", "40.000", "40.100", "-0.100"]


def test_earlier_inspections_stand_as_they_come_with_their_state() -> None:
    past = [
        read_result(a_document(inspection=f"past-{year}", opened=f"{year}-11-01T06:00:00Z", state=state), "x")
        for year, state in ((2025, "abandoned"), (2024, "signed"), (2023, "closed"))
    ]
    rows = table(page(a_document(), earlier=tuple(past)), "Earlier")
    assert [row[:2] + row[-1:] for row in rows] == [
        ["2025-11-01", "past-2025", "abandoned, no verdict"],
        ["2024-11-01", "past-2024", "keep"],
        ["2023-11-01", "past-2023", "keep, not signed"],
    ]
    assert rows[0][2:7] == ["11 870", "184 200", "0.186 ± 0.008", "0.121 ± 0.008", "–"]
    many = page(a_document(), earlier=tuple(past) * 4)
    assert len(table(many, "Earlier")) == 8
    assert lines(many, "Earlier") == "And 4 older ones on record."


def test_what_was_closed_with_replace_and_given_up_then_is_not_said_to_decide_nothing() -> None:
    gone = replaced(state="abandoned", signed=None, signed_by=None)
    made = page(gone)
    assert (made.headline, made.notice) == ("ABANDONED", "NO VERDICT")
    assert made.says == (
        "This inspection was closed, and given up then. What it found stands until the damper is inspected "
        "again: replace.",
    )
    rows = table(page(a_document(), earlier=(read_result(gone, "x"),)), "Earlier")
    assert rows[0][-1] == "replace, given up"


def test_a_gauge_whose_calibration_was_over_is_named() -> None:
    made = page(a_document(checks={"thickness": THICKNESS}))
    assert table(made, "Method")[0][1:3] == ["micrometer-1", "2026-03-01: OVERDUE on the day"]


def test_the_example_method_is_called_that() -> None:
    assert "example limits" in facts(page(a_document()), "Method")["Method"]
    own = a_document(method={"id": "quarry", "version": "4", "sha256": "ab" * 32})
    assert facts(page(own), "Method")["Method"] == "quarry, version 4"
    said = "Judged by example limits: the engine maker's manual rules."
    assert said in page(a_document()).says
    assert said not in page(own).says


def test_cautions_are_those_of_the_work() -> None:
    on_engine, bench = page(a_document()), page(a_document(scope="bench", checks={"thickness": THICKNESS}))
    assert "Bar by hand with the barring tool" in lines(on_engine, "Cautions")
    assert "Bar by hand" not in lines(bench, "Cautions")
    for made in (on_engine, bench):
        assert "A damper weighs more than it looks" in lines(made, "Cautions")
        assert "The engine maker's manual" in lines(made, "Cautions")
        assert "ringtrue advises; a qualified person decides and signs." in made.foot


def test_what_is_to_be_known_of_a_figure_stands_below_it() -> None:
    made = page(replaced(checks={"rim": json.loads(replaced())["checks"]["rim"],
                                 "face": {**FACE, "doubts": ["a jump at 30°"]},
                                 "thickness": {**THICKNESS, "zero_shift_mm": 0.004}}))  # fmt: skip
    assert "Rim: note: the calibration of indicator-1 was due on 2026-06-01" in lines(made, "Reasons")
    assert lines(made, "To be known").split("\n") == [
        "Rim: attempt 1 does not count: the plunger did not follow",
        "Rim: attempt 2 counts",
        "Face: doubt: a jump at 30°",
        f"Face: not in the uncertainty: {FACE['excluded'][0]}",
        "Casing: the micrometer's zero moved by 0.004 mm",
    ]


def test_who_signed_and_when_or_room_for_a_hand() -> None:
    assert facts(page(a_document()), "Signature") == {
        "Signed by": "R. Example", "On": "2026-11-26 05:20 UTC"
    }  # fmt: skip
    blanks = [b for b in section(page(unsigned("closed")), "Signature").blocks if isinstance(b, Blanks)]
    assert blanks == [Blanks(("Name", "Signature", "Date"))]
    for state in ("open", "abandoned"):
        assert f"the inspection is {state}" in lines(page(unsigned(state)), "Signature")


def test_who_signed_against_the_verdict_stands_beside_it() -> None:
    made = page(replaced(decision="keep", remark="rim cleaned, read again by hand"))
    assert (made.headline, made.notice, made.tone) == ("VERDICT: REPLACE", "SIGNED AS: KEEP", "dark")
    assert made.says[:2] == (
        "R. Example decided keep, against the verdict.", "Remark: rim cleaned, read again by hand"
    )  # fmt: skip
    signed = facts(made, "Signature")
    assert signed["Decision"] == "keep; the verdict: replace"
    assert signed["Remark"] == "rim cleaned, read again by hand"
    other = page(a_document(decision="replace"))
    assert (other.headline, other.notice, other.tone) == ("VERDICT: KEEP", "SIGNED AS: REPLACE", "dark")
    assert not any("Next inspection" in sentence for sentence in other.says)
    past = read_result(a_document(inspection="past", opened="2025-01-01T00:00:00Z", decision="replace"), "x")
    assert table(page(a_document(), earlier=(past,)), "Earlier")[0][-1] == "keep, signed as replace"


def test_what_was_put_right_after_signing_stands_beside_the_signature() -> None:
    one = {"by": "R. Example", "why": "misread the plate", "when": "2026-11-27T05:20:00.000Z",
           "what": [{"key": "engine.hours_h", "was": 11840.0, "now": 11850.5}]}  # fmt: skip
    assert facts(page(a_document(corrections=[one])), "Signature")["Corrected"] == (
        "2026-11-27 05:20 UTC, R. Example (misread the plate): engine.hours_h 11840 → 11850.5"
    )


def test_what_was_not_stated_is_said_to_be_so() -> None:
    made = facts(page(bare()), "What was inspected")
    assert (
        made["Engine hours"] == made["Distance"] == made["Work order"] == made["Construction"] == "not stated"
    )
    assert made["Closed"] == "not closed"


def test_the_code_names_the_document_and_its_hash() -> None:
    code = page(b'{"schema":' + a_document()[10:]).code
    assert code.startswith("ringtrue/result/1 truck-14-november 6 sha256:")
    assert len(code.rpartition(":")[2]) == 64


@pytest.mark.parametrize(
    ("inspection", "name"),
    [("truck-14", "truck-14-6.json"), ("../../etc/x y", "_etc_x_y-6.json"), (".hidden", "_hidden-6.json")],
)
def test_no_id_leads_out_of_the_folder(inspection: str, name: str) -> None:
    made = page(a_document(inspection=inspection)).document_name
    assert "/" not in made
    assert not made.startswith(".")
    assert made.endswith(name[-7:])


@pytest.mark.parametrize(
    "document",
    [
        a_document(signed="yesterday"),
        b"",
        b"[]",
        b"{}",
        b"\xff",
        json.dumps({**RESULT, "verdict": "x"}).encode(),
    ],
)
def test_what_is_no_result_document_is_refused_in_one_line(document: bytes) -> None:
    with pytest.raises(ReportError, match=r"^file\.json: not a result document: ") as refused:
        read_result(document, "file.json")
    assert "\n" not in str(refused.value)
