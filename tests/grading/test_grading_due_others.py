"""Whether an engine is due where a damper was inspected that by the register is not on it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from contract.terms import Verdict
from grading.programme.record import Fitting
from grading.programme.schedule import add_months
from tests.grading.test_grading_due import FITTED, RECORD, TODAY, due, inspected


@pytest.mark.parametrize("verdict", ["replace", "measure-again"])
def test_what_condemns_a_damper_that_the_register_never_had_there_makes_it_due(verdict: Verdict) -> None:
    """d-1: a serial that was mistyped, or a damper whose fitting nobody imported."""
    day = date(2026, 5, 4)
    first, amiss = inspected(date(2026, 3, 2)), inspected(day, verdict, damper="d-1", id_="GQ-2")
    found = due(inspections=(first, amiss))
    assert (found.state, found.day, found.base.inspection) == ("due", TODAY, first)
    assert f"inspection GQ-2 of 2026-05-04 ended in {verdict}" in found.sentences[0]
    assert "import the fitting of d-1, or correct its serial" in found.sentences[1]
    for damper in ("D-1", "d-1"):
        kept = inspected(day + timedelta(days=1), damper=damper, id_="GQ-3")
        assert due(inspections=(first, amiss, kept)).state == "ok"
    # Nor does a strange one's keep clear what condemned the one that is fitted.
    let_go = inspected(day, verdict, id_="GQ-2")
    kept = inspected(day + timedelta(days=1), damper="D-9", id_="GQ-3")
    assert due(inspections=(first, let_go, kept)).state == "due"
    # One that was on it before, and was looked at on the bench since, is explained by the register.
    before = (Fitting(FITTED - timedelta(days=90), "d-1"), *RECORD.fittings)
    assert due(inspections=(first, amiss), fittings=before).state == "ok"
    assert due(inspections=(replace(amiss, day=FITTED),)).state == "ok"


def test_a_damper_that_was_fitted_used_ages_from_its_last_keep() -> None:
    """By the calendar: what its engine of before ran is not known here."""
    new = due()
    before = inspected(FITTED - timedelta(days=200), id_="GQ-1")
    used = due(elsewhere=(inspected(FITTED - timedelta(days=400), id_="GQ-0"), before))
    days = {part.by: part.day for part in new.parts} | {"calendar": add_months(before.day, 12)}
    assert {part.by: part.day for part in used.parts} == days
    assert f"its calendar counts from inspection GQ-1 of {before.day}" in used.sentences[0]
    # It counts no more once it was kept here, nor where it was not kept.
    here = inspected(FITTED + timedelta(days=1), id_="GQ-2")
    assert due(inspections=(here,), elsewhere=(before,)).parts == due(inspections=(here,)).parts
    let_go = inspected(FITTED - timedelta(days=200), "incomplete")
    assert due(elsewhere=(let_go,)).parts == new.parts
