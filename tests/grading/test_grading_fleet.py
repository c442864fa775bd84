"""Who drifts, and what each method came to."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from contract.result import MethodPart, Result
from contract.terms import Verdict
from grading.fleet.drifting import drifts_of
from grading.fleet.looked import Looked, Named, looked_of
from grading.fleet.outcomes import by_method
from grading.fleet.readers import adjusted, compare
from grading.statistics.shares import difference, share_of
from tests.grading.services import rim, service, thickness


def looked(*results: Result) -> list[Looked]:
    return [looked_of(one) for one in results]


def grown(damper: str, per_year_mm: float, **more: Any) -> list[Looked]:
    return looked(
        *(
            service(
                f"{damper}-{n}",
                f"{2020 + n}-03-01",
                hours_h=3_000.0 * n,
                damper=damper,
                rim=rim(0.1 + per_year_mm * n),
                **more,
            )
            for n in range(4)
        )
    )


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    # Newcombe 1998, Two-sided confidence intervals for the single proportion, table I, method 3 (memory).
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_a_share_has_the_published_interval(count: int, total: int, low: float, high: float) -> None:
    found = share_of(count, total)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)
    assert share_of(total, total).high == 1.0
    with pytest.raises(ValueError, match="found 3 of 2"):
        share_of(3, 2)


def test_two_shares_differ_by_the_published_interval() -> None:
    """Newcombe 1998, Interval estimation for the difference between independent proportions, table II, method
    10: 56/70 less 48/80 (from memory)."""
    found = difference((48, 80), (56, 70))
    assert found.share == pytest.approx(0.2)
    assert (found.low, found.high) == pytest.approx((0.0524, 0.3339), abs=5e-5)


def test_the_damper_that_meets_its_limit_first_stands_first() -> None:
    fleet = [*grown("GQ-D-1", 0.02), *grown("GQ-D-2", 0.05), *grown("GQ-D-3", 0.0), *grown("GQ-D-4", 0.04)]
    fleet += looked(service("once", "2024-01-01", damper="GQ-D-5", rim=rim(0.1)))
    found = drifts_of(fleet)
    assert [row.damper for row in found.rows] == ["GQ-D-2", "GQ-D-4", "GQ-D-1"]
    assert (found.dampers, found.once) == (4, 1)
    first = found.rows[0]
    assert first.early is not None
    assert first.met is not None
    assert first.early < first.met
    # 0.25 mm at 9000 h and 0.05 mm an interval of a year: half an interval after the latest, or little more.
    assert first.met == pytest.approx(0.6, abs=0.1)
    assert first.day is not None
    assert date(2023, 7, 1) < first.day < date(2023, 12, 1)


def test_an_invalid_check_and_an_abandoned_inspection_drift_nowhere() -> None:
    fleet = grown("GQ-D-1", 0.05)[:1]
    fleet += looked(
        service("i", "2021-01-01", hours_h=3_000, damper="GQ-D-1", rim=rim(0.9, "invalid")),
        service("a", "2022-01-01", hours_h=6_000, damper="GQ-D-1", rim=rim(0.9), state="abandoned"),
    )
    found = drifts_of(fleet)
    assert (found.rows, found.dampers, found.once) == ((), 0, 1)


def given_up(one: Result, **changed: Any) -> Result:
    """After it was closed."""
    return one.model_copy(
        update={"state": "abandoned", "closed": f"{one.opened[:10]}T07:00:00.000Z"} | changed
    )


def test_a_damper_that_was_condemned_and_its_inspection_given_up_is_due_by_no_keep_of_before() -> None:
    """Its figure counts in no trend, as in its history; that it ended in `replace` does."""
    fleet = grown("GQ-D-1", 0.05)
    last = service("a", "2024-03-01", hours_h=12_000, damper="GQ-D-1", rim=rim(0.9), due=False)
    (kept,), (condemned,) = (drifts_of([*fleet, *more]).rows for more in ([], looked(given_up(last))))
    assert kept.heading.due is not None
    assert condemned.heading.due is None
    assert condemned.latest == kept.latest
    (slip,) = drifts_of([*fleet, *looked(given_up(last, verdict="keep"))]).rows
    assert slip.heading.due == kept.heading.due


def test_what_was_condemned_and_given_up_is_told_under_its_method() -> None:
    """As `due` does: what a closed inspection found stays found. A `keep` that was given up is none."""
    first = service("a", "2024-03-01", rim=rim(0.4, "over"), due=False)
    (found,) = by_method(
        looked(service("b", "2024-04-01"), given_up(first), given_up(service("c", "2024-05-01")))
    )
    assert (found.inspections, found.endings["replace"][0], found.endings["keep"][0]) == (2, 1, 1)


def test_a_bay_that_gives_up_what_it_read_high_reads_high_all_the_same() -> None:
    fleet = []
    for n in range(12):
        for bay, figure in (("bay-1", 0.1), ("bay-3", 0.15 if n % 2 else 0.1)):
            one = service(f"{n}-{bay}", "2024-03-01", damper=f"D-{n}", rim=rim(figure + 0.001 * n))
            one = one.model_copy(update={"bay": bay})
            fleet.append(looked_of(given_up(one, verdict="replace") if bay == "bay-3" and n % 2 else one))
    effects = {one.reader: one for one in compare(fleet, "bay")["rim"].effects}
    assert (effects["greywacke/bay-3"].figures, effects["greywacke/bay-3"].shared) == (12, 12)
    unread = [replace(one, was_closed=False) if one.state == "abandoned" else one for one in fleet]
    effects = {one.reader: one for one in compare(unread, "bay")["rim"].effects}
    assert effects["greywacke/bay-3"].figures == 6


def test_bays_are_compared_by_what_the_same_dampers_read() -> None:
    fleet = []
    for n in range(8):
        for year in range(4):
            bay = f"bay-{(n + year) % 2}"
            figure = 0.1 + 0.01 * year + (0.03 if bay == "bay-1" else 0.0) + 0.001 * ((3 * n + year) % 5)
            one = service(f"{n}-{year}", f"{2020 + year}-03-01", damper=f"D-{n}", rim=rim(figure))
            fleet.append(looked_of(one.model_copy(update={"bay": bay})))
    fleet += looked(service("w", "2021-01-01", damper="D-w", thickness=thickness(0.1)))
    found = compare(fleet, "bay")
    high = next(one for one in found["rim"].effects if one.reader == "greywacke/bay-1")
    assert high.offset is not None
    assert high.offset.low < 0.03 < high.offset.high
    chances = adjusted(found)
    assert chances["rim", "greywacke/bay-1"] < 0.01
    assert set(chances) == {("rim", "greywacke/bay-0"), ("rim", "greywacke/bay-1")}
    assert found["thickness"].effects[0].offset is None
    gauges = compare(fleet, "gauge")["rim"].effects
    assert [one.reader for one in gauges] == ["greywacke/bay-0 indicator-1", "greywacke/bay-1 indicator-1"]


def test_a_change_of_method_shows_in_what_inspections_came_to() -> None:
    def closed(n: int, version: str, *, keeps: bool, **more: Any) -> Result:
        method = MethodPart(id="quarry", version=version, sha256=version * 8)
        day = f"2024-{1 + n // 28:02}-{1 + n % 28:02}"
        check = rim(0.1, "within" if keeps else "unclear")
        verdict = "keep" if keeps else "measure-again"
        one = service(f"{version}-{n}", day, rim=check, **({"verdict": verdict} | more))
        return one.model_copy(update={"method": method})

    fleet = looked(
        *(closed(n, "1", keeps=n % 10 > 0) for n in range(50)),
        *(closed(60 + n, "2", keeps=n % 2 > 0) for n in range(40)),
        closed(200, "2", keeps=True, state="open"),
        closed(201, "2", keeps=False, decision="replace"),
    )
    first, then = by_method(reversed(fleet))
    assert (first.method.version, first.inspections, then.inspections) == ("1", 50, 41)
    assert first.endings["keep"][0] == 45
    assert first.differs == {}
    assert then.endings["replace"][0] == 1  # the signer's word
    assert then.endings["unclear"][0] == 21
    assert then.checks["rim"] == {"unclear": 21, "within": 20}
    assert then.differs["keep"].high < 0.0
    assert then.differs["incomplete"].low < 0.0 < then.differs["incomplete"].high


def test_methods_under_which_nothing_changed_differ_by_no_more_than_chance() -> None:
    """Four of them, six endings of each: one 95 % interval for each would accuse every third fleet."""
    rng = np.random.default_rng(3)
    (one,) = looked(service("q-1", "2024-03-11"))
    verdicts: tuple[Verdict, ...] = ("keep", "replace", "measure-again", "incomplete")
    accused = 0
    for _ in range(20):
        fleet = [
            replace(
                one,
                opened=f"2024-0{version}-11T08:00:00.000Z",
                ended=verdicts[rng.choice(4, p=(0.75, 0.12, 0.08, 0.05))],
                method=Named("quarry", str(version), str(version) * 64),
            )
            for version in range(1, 5)
            for _ in range(200)
        ]
        differs = [one for under in by_method(fleet) for one in under.differs.values()]
        assert len(differs) == 18
        accused += any(one.low > 0.0 or one.high < 0.0 for one in differs)
    assert accused <= 2
