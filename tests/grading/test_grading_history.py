"""A damper's history from its results: what counts, by what, and what is put forward."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import pytest

from contract.result import NextDue, Result
from grading.programme.order import places_of
from grading.programme.past import carried_by, forward_of, history_of
from grading.programme.series import EARLY, counted_by, heading_of, shortened, visits_of
from tests.grading.services import rim, service, thickness

STEADY = (
    service("i-1", "2022-11-01", hours_h=2_900, rim=rim(0.120)),
    service("i-2", "2023-11-01", hours_h=5_900, rim=rim(0.122)),
    service("i-3", "2024-11-01", hours_h=8_900, rim=rim(0.121)),
)
RISING = (
    service("i-1", "2022-11-01", hours_h=2_900, rim=rim(0.12)),
    service("i-2", "2023-11-01", hours_h=5_900, rim=rim(0.17)),
    service("i-3", "2024-11-01", hours_h=8_900, rim=rim(0.22)),
)


def test_what_does_not_count_is_no_figure() -> None:
    results = (
        service("i-5", "2024-11-05", rim=rim(None, "missing")),
        service("i-4", "2024-11-04", rim=rim(0.4), state="abandoned"),
        service("i-3", "2024-11-03", rim=rim(0.4, "invalid")),
        service("i-2", "2024-11-02", thickness=thickness(0.1)),
        service("i-1", "2024-11-01", rim=rim(0.12)),
    )
    told = visits_of(results, "rim")
    assert [(visit.inspection, visit.outcome, visit.figure_mm) for visit in told] == [
        ("i-1", "within", 0.12),
        ("i-3", "invalid", None),
    ]
    assert heading_of(told, None).why_none == "one service does not make one, the next one will"
    assert heading_of(told[1:], None).why_none == "no service has a figure that counts"


FURTHER = (
    service("a", "2024-01-01", distance_km=1, rim=rim(0.1)),
    service("b", "2025-01-01", distance_km=9, rim=rim(0.1)),
)


def with_one_more(**counters: Any) -> tuple[Result, ...]:
    return (*STEADY, service("x", "2025-11-01", rim=rim(0.1), **counters))


@pytest.mark.parametrize(
    ("results", "by", "why"),
    [
        (STEADY, "hours_h", None),
        (FURTHER, "distance_km", None),
        (with_one_more(), "date", "neither hours nor distance"),
        (with_one_more(hours_h=900), "date", "a counter has fallen"),
        (with_one_more(hours_h=11_000, engine="GQ-E-9"), "date", "more than one engine"),
    ],
)
def test_by_what_it_is_counted(results: tuple[Result, ...], by: str, why: str | None) -> None:
    found, said = counted_by(visits_of(results, "rim"))
    assert found == by
    assert (said is None) if why is None else (said is not None and why in said)


def test_two_engines_are_one_history_of_the_damper() -> None:
    moved = service("i-9", "2025-11-01", hours_h=500, engine="GQ-E-3001", rim=rim(0.13))
    history = history_of([moved, *STEADY])
    assert [(spell.serial, spell.inspections) for spell in history.engines] == [
        ("GQ-E-2207", 3),
        ("GQ-E-3001", 1),
    ]
    visits, heading = history.checks["rim"]
    assert [visit.engine for visit in visits] == ["GQ-E-2207"] * 3 + ["GQ-E-3001"]
    assert heading.by == "date"
    assert heading.due == date(2026, 11, 1).toordinal()


def test_an_engine_s_dampers_come_with_their_dates_the_last_one_at_the_end() -> None:
    before = service("i-0", "2020-01-01", damper="GQ-D-0001", rim=rim(0.2))
    spells = carried_by([*STEADY, before])
    assert [(spell.serial, spell.first.year, spell.last.year) for spell in spells] == [
        ("GQ-D-0001", 2020, 2020),
        ("GQ-D-0815", 2022, 2024),
    ]


def test_a_steady_figure_shortens_nothing_and_its_limit_is_not_in_sight() -> None:
    history = history_of(STEADY)
    _, heading = history.checks["rim"]
    assert (heading.rising, heading.met) == (False, None)
    assert heading.p_due is not None
    assert heading.p_due < EARLY
    assert history.sooner is None
    assert history.next_due == NextDue(hours_h=11_900, date="2025-11-01")


def test_a_rising_figure_puts_the_next_inspection_forward() -> None:
    history = history_of(RISING)
    _, heading = history.checks["rim"]
    assert heading.rising
    # 0.05 mm a service from 0.22: 0.28 after 1.2 of them.
    assert heading.met == pytest.approx(8_900 + 1.2 * 3_000, rel=0.02)
    assert history.sooner is not None
    assert history.sooner.hours_h is not None
    assert heading.met_early == pytest.approx(history.sooner.hours_h, abs=1.0)
    assert 8_900 + 750 <= history.sooner.hours_h < 11_900
    assert history.sooner.date == "2025-11-01"
    assert history.why_sooner is not None
    assert history.why_sooner == "rim: its chance of being over comes to 5 % before the interval ends"


def test_what_is_near_the_limit_already_is_not_asked_for_before_a_quarter_has_passed() -> None:
    near = (*RISING[:2], service("i-3", "2024-11-01", hours_h=8_900, rim=rim(0.262)))
    history = history_of(near)
    assert history.sooner is not None
    assert history.sooner.hours_h == 8_900 + 750
    assert history.why_sooner is not None
    assert history.why_sooner.endswith(
        "before a quarter of the interval is over, the soonest that it is asked for again"
    )


def test_a_damper_not_kept_has_no_next_due() -> None:
    history = history_of(
        [*STEADY, service("i-4", "2025-11-01", hours_h=12_000, due=False, rim=rim(0.3, "over"))]
    )
    assert (history.verdict, history.next_due, history.sooner) == ("replace", None, None)
    assert history.checks["rim"][1].p_due is None


def test_a_signer_s_own_decision_goes_before_the_verdict() -> None:
    let_go = service("i-4", "2025-11-01", hours_h=12_000, rim=rim(0.12), decision="replace")
    assert history_of([*STEADY, let_go]).verdict == "replace"
    assert history_of([*STEADY, let_go]).next_due is None


def test_an_inspection_still_open_has_figures_and_no_say_in_what_is_due() -> None:
    still = service("i-4", "2025-11-01", hours_h=12_000, rim=rim(0.125), state="open", due=False)
    history = history_of([*STEADY, still])
    assert history.verdict == "keep"
    assert len(history.checks["rim"][0]) == 4


def test_where_nothing_is_due_by_that_count_a_usual_interval_is() -> None:
    visits = visits_of(RISING, "rim")
    due, why = shortened(
        NextDue(date="2025-11-01"),
        {"rim": heading_of(visits, NextDue(date="2025-11-01"))},
        {"hours_h": 8_900.0, "distance_km": None, "date": None},
    )
    assert why is not None
    assert due.hours_h is not None
    assert due.hours_h < 11_900
    assert due.date == "2025-11-01"


def test_a_figure_of_an_inspection_still_open_puts_forward_what_is_due_by_the_one_before() -> None:
    first = service("i-1", "2022-11-01", hours_h=2_900, rim=rim(0.2))
    still = service("i-2", "2023-11-01", hours_h=5_800, rim=rim(0.262), state="open", due=False)
    forward = forward_of(history_of([first, still]))
    assert forward is not None
    assert forward.inspection == "i-1"
    assert forward.due.hours_h is not None
    assert forward.due.hours_h < 5_900
    assert forward_of(history_of([first])) is None


def test_the_latest_is_the_last_of_its_bay_s_chain_whatever_its_clock_said() -> None:
    last = STEADY[-1].model_copy(
        update={
            "inspection": "GQ-9",
            "verdict": "replace",
            "next_due": None,
            "opened": "2000-01-01T00:00:00.000Z",
        }
    )
    results = [*STEADY, last]
    assert history_of(results).latest == STEADY[-1].inspection
    line = [(one.inspection, datetime.fromisoformat(one.opened)) for one in results]
    history = history_of(results, places_of({"bay-2": line}))
    assert (history.latest, history.verdict, history.next_due) == ("GQ-9", "replace", None)


def test_a_latest_that_another_result_contradicts_says_no_next_due() -> None:
    name = STEADY[-1].inspection
    history = history_of(STEADY, contested={name: "quarry/bay-2, quarry/bay-3"})
    assert (history.next_due, history.sooner) == (None, None)
    assert f"inspection {name} does not count" in str(history.amiss)


def test_an_inspection_that_was_closed_with_replace_and_given_up_then_is_the_latest_that_counts() -> None:
    gone = service("i-4", "2025-11-01", due=False, state="abandoned", rim=rim(0.4, "over"))
    told = history_of((*STEADY, gone.model_copy(update={"closed": "2025-11-01T07:00:00.000Z"})))
    assert (told.latest, told.verdict, told.next_due) == ("i-4", "replace", None)
    assert len(told.checks["rim"][0]) == 3
    assert history_of((*STEADY, gone)).latest == "i-3"
    assert carried_by([gone]) == ()
    assert [one.serial for one in carried_by([gone.model_copy(update={"closed": gone.opened})])] == [
        "GQ-D-0815"
    ]


def test_the_damper_that_an_engine_carries_is_the_one_that_its_bay_inspected_last() -> None:
    """By the bay's chain: its clock was a year ahead when the damper before was inspected."""
    before = service("i-1", "2026-11-01", damper="GQ-D-0001", rim=rim(0.1))
    now = service("i-2", "2026-03-01", rim=rim(0.1))
    lines = {"bay-2": [(one.inspection, datetime.fromisoformat(one.opened)) for one in (before, now)]}
    assert [spell.serial for spell in carried_by((before, now))] == ["GQ-D-0815", "GQ-D-0001"]
    assert carried_by((before, now), places_of(lines))[-1].serial == "GQ-D-0815"
