"""Whether an engine is due where an inspection was closed, and given up then."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from contract.terms import Verdict
from tests.grading.test_grading_due import TODAY, due, inspected


@pytest.mark.parametrize("verdict", ["replace", "measure-again"])
def test_what_was_found_stays_found_where_its_closed_inspection_was_given_up(verdict: Verdict) -> None:
    first, day = inspected(date(2026, 3, 2)), date(2026, 5, 4)
    gone = inspected(day, verdict, id_="GQ-2", state="abandoned", was_closed=True)
    found = due(inspections=(first, gone))
    assert (found.state, found.day, found.base.inspection) == ("due", TODAY, first)
    assert f"inspection GQ-2 of 2026-05-04 was closed with {verdict}, then given up" in found.sentences[0]
    # Until one of that damper comes to something else; while it was open, it came to nothing.
    after = inspected(day + timedelta(days=1), id_="GQ-3")
    assert due(inspections=(first, gone, after)).state == "ok"
    assert due(inspections=(first, replace(gone, was_closed=False))).state == "ok"
    # Nor does a keep count that nobody stood by.
    given_up = replace(gone, verdict="keep")
    assert due(inspections=(first, given_up)).base.inspection == first
    assert due(inspections=(first,), elsewhere=(gone,)).state == "due"
    assert due(inspections=(gone,), fittings=()).base.is_pressing
