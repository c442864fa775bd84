"""Whether an engine is due where a clock was wrong, or two results of one inspection were issued."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from grading.programme.order import places_of
from tests.grading.test_grading_due import TODAY, due, inspected

DEAD = datetime(2000, 1, 1, tzinfo=UTC)
"""What a clock without its battery begins with."""


def test_what_condemns_a_damper_does_so_whatever_the_clock_of_its_bay_said() -> None:
    kept, let_go = inspected(date(2026, 5, 4)), inspected(DEAD.date(), "replace", id_="GQ-2")
    places = places_of({"bay-2": [(kept.id, kept.opened), (let_go.id, let_go.opened)]})
    found = due(inspections=(let_go, kept))
    assert (found.base.condemned, found.state) == (None, "ok")  # no chain: the clocks are all there is
    ranked = [replace(one, place=places[one.id]) for one in (kept, let_go)]
    found = due(inspections=tuple(ranked))
    assert found.base.condemned == ranked[1]
    assert (found.state, found.day) == ("due", TODAY)
    assert "inspection GQ-2 of 2000-01-01 ended in replace" in found.sentences[0]
    again = inspected(DEAD.date(), id_="GQ-3")
    places = places_of({"bay-2": [(one.id, one.opened) for one in (kept, let_go, again)]})
    ranked = [replace(one, place=places[one.id]) for one in (let_go, again, kept)]
    assert due(inspections=tuple(ranked)).base.condemned is None


def test_another_bay_s_keep_clears_nothing_that_may_have_come_after_it() -> None:
    """A bay's clock went back between its first and its second inspection: when that was nobody knows."""
    before = inspected(date(2026, 6, 1), id_="GQ-1", damper="D-7")
    let_go = inspected(DEAD.date(), "replace", id_="GQ-2")
    places = places_of({"bay-2": [(one.id, one.opened) for one in (before, let_go)]})
    let_go = replace(let_go, place=places["GQ-2"])
    for day, is_cleared in ((date(2026, 5, 4), False), (date(2026, 6, 2), True)):
        found = due(inspections=(let_go, inspected(day, id_="GQ-3")))
        assert (found.base.condemned is None) == is_cleared
    # Nor does one whose clock was ahead until the next one there.
    kept, later = (
        inspected(date(2026, 6, 20), id_="GQ-3"),
        inspected(date(2026, 4, 1), id_="GQ-4", damper="D-7"),
    )
    places = places_of({"bay-3": [(one.id, one.opened) for one in (kept, later)]})
    found = due(inspections=(inspected(date(2026, 5, 4), "replace"), replace(kept, place=places["GQ-3"])))
    assert found.base.condemned is not None


def test_what_condemns_a_damper_on_a_day_that_has_not_come_does_so_all_the_same() -> None:
    ahead = inspected(TODAY + timedelta(days=400), "replace", id_="GQ-2", hours_h=9_000.0)
    found = due(inspections=(inspected(date(2026, 5, 4)), ahead))
    assert (found.base.condemned, found.state) == (ahead, "due")
    assert any(one.endswith("which has not come: set that bay's clock") for one in found.sentences)


def test_a_keep_that_another_result_contradicts_does_not_count_and_presses() -> None:
    first = inspected(date(2026, 3, 2), id_="GQ-1")
    contested = inspected(date(2026, 5, 4), id_="GQ-2", contested="quarry/bay-2, quarry/bay-3")
    found = due(inspections=(first, contested))
    assert (found.base.inspection, found.base.contested, found.state) == (first, contested, "due")
    assert "GQ-2 does not count: quarry/bay-2, quarry/bay-3 issued results" in found.sentences[0]
    assert due(inspections=(first, contested, inspected(date(2026, 6, 1), id_="GQ-3"))).state == "ok"
