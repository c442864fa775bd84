"""Sentences follow the unit of whoever reads them. 1 in = 25.4 mm exactly (ISO 31-1)."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contract.header import DamperPart, EnginePart
from contract.lengths import UNITS
from contract.live import Live
from contract.result import AttemptPart, Checks, ItemPart, MethodPart, ObservedCheck, Result, SurfaceCheck
from contract.told import live_in, result_in

MM, INCH = UNITS["mm"], UNITS["in"]
FIGURES = st.floats(0.0, 100.0).map(lambda mm: round(mm, 6))


@given(thousandths=st.integers(-99_999_999, 99_999_999), decimals=st.integers(0, 6), plus=st.booleans())
def test_a_told_number_is_converted_exactly_and_rounded_once(
    thousandths: int, decimals: int, plus: bool
) -> None:
    number = format(Decimal(thousandths).scaleb(-decimals), f"{'+' if plus else ''}.{decimals}f")
    told, unit = INCH.sentence(f"it moved by {number} mm; begin again").split()[3:5]
    assert unit == "in;"
    shown = len(told.partition(".")[2])
    assert shown >= max(4, decimals + 1)
    assert (Fraction(told) == 0) == (thousandths == 0)
    assert told.startswith("+") == (plus and thousandths >= 0)
    assert abs(Fraction(told) - Fraction(number) / Fraction("25.4")) <= Fraction(1, 2 * 10**shown)


@given(figure=FIGURES, u=FIGURES, limit=FIGURES)
def test_a_figure_comes_out_in_the_sentence_as_it_does_beside_it(
    figure: float, u: float, limit: float
) -> None:
    text = f"true TIR {figure:.3f} mm ± {u:.3f} mm (95 %) is over the limit of {limit:g} mm (rule: simple)"
    told = INCH.sentence(text, (limit, u, figure))
    numbers = [told.split()[n] for n in (2, 5, -4)]
    for number, mm in zip(numbers, (figure, u, limit), strict=True):
        # Where two figures read alike in mm, either may be meant.
        alike = [one for one in (figure, u, limit) if f"{one:.3f}" == f"{mm:.3f}"]
        assert number in {INCH.number(one) for one in alike} or abs(float(number) * 25.4 - mm) < 2e-3
    assert INCH.sentence(told, (limit, u, figure)) == told


@given(text=st.text(alphabet="0123456789., mminch()°%;:+-±", max_size=60))
def test_what_is_no_length_is_left_and_in_mm_all_is(text: str) -> None:
    assert MM.sentence(text) == text
    if " mm" not in text:
        assert INCH.sentence(text) == text


@pytest.mark.parametrize(
    ("told", "shown"),
    [
        ("the sweeps disagree (0.310, 0.205 mm, more", "the sweeps disagree (0.0122, 0.0081 in, more"),
        ("4.60 of the 5 mm of travel are used", "0.1811 of the 0.1969 in of travel are used"),
        ("the level jumped by -0.05 mm", "the level jumped by -0.0020 in"),
        ("sweep 2, 0.310 mm, at 45 degrees", "sweep 2, 0.0122 in, at 45 degrees"),
        ("12 readings of 8, 1 mm apart", "12 readings of 8, 0.0394 in apart"),
        ("0.254 mm at 90 degrees, 0.508 mm at 180", "0.0100 in at 90 degrees, 0.0200 in at 180"),
        ("by +0.012 mm, at most 0.02 mm", "by +0.00047 in, at most 0.00079 in"),
        ("steps of 0.0001 mm", "steps of 0.0000039 in"),
        ("3.000 inches are 76.20 mm", "3.000 inches are 76.20 mm"),
        ("5 mm² and 3 mm/s stay", "5 mm² and 3 mm/s stay"),
        ("v1.5 mm", "v1.5 mm"),
    ],
)
def test_sentences_as_they_are_told(told: str, shown: str) -> None:
    assert INCH.sentence(told) == shown


def test_a_result_is_shown_in_inches_but_for_what_people_and_the_method_say() -> None:
    reason = "true TIR 0.278 mm ± 0.004 mm is too near to call against the limit of 0.28 mm"
    rim = SurfaceCheck(
        outcome="unclear",
        reason=reason,
        limit_mm=0.28,
        # 0.278 mm alone would be 0.0109 in.
        true_tir_mm=0.27849,
        u_expanded_mm=0.004,
        warnings=("steps of 0.01 mm",),
        doubts=("it jumped by +0.05 mm",),
        attempts=(AttemptPart(number=1, counted=False, reason="closure 0.1 mm"),),
    )
    seen = ObservedCheck(
        outcome="bad",
        reason="dents: a dent of 2 mm",
        items=(ItemPart(item="dents", seen="bad", text="none deeper than 1 mm", note="2 mm"),),
    )
    result = Result(
        inspection="i", revision=1, state="signed", site="s", bay="b", scope="on-engine",
        engine=EnginePart(serial="e"), damper=DamperPart(serial="d"), opened="2026-11-02T08:00:00Z",
        method=MethodPart(id="m", version="1", sha256="0"), checks=Checks(rim=rim, visual=seen),
        verdict="replace", reasons=(f"rim: {reason}", f"visual: {seen.reason}"), remark="1 mm", software="r",
        readings_sha256="0",
    )  # fmt: skip
    before = result.model_dump_json()
    told = result_in(result, INCH)
    shown = told.checks.rim
    assert shown is not None
    assert shown.reason == "true TIR 0.0110 in ± 0.0002 in is too near to call against the limit of 0.0110 in"
    assert told.reasons == (f"rim: {shown.reason}", result.reasons[1])
    assert (shown.warnings, shown.doubts) == (("steps of 0.00039 in",), ("it jumped by +0.0020 in",))
    assert shown.attempts is not None
    assert shown.attempts[0].reason == "closure 0.0039 in"
    assert (told.checks.visual, told.remark) == (seen, "1 mm")
    assert result.model_dump_json() == before
    assert result_in(result, MM) is result


def test_what_runs_is_shown_in_inches() -> None:
    live = Live(check="rim", warnings=("4.60 of the 5 mm of travel are used",))
    assert live_in(live, INCH).warnings == ("0.1811 of the 0.1969 in of travel are used",)
    assert live_in(live, MM) is live
