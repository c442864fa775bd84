"""The fleet, told from all that is on record: for `fleet`, and for the pages of a display."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from config.errors import RingtrueError
from contract.serials import bare
from display.web.fleets import (
    Between,
    ComparedTold,
    DriftsTold,
    DriftTold,
    FleetTold,
    MethodTold,
    ReaderTold,
    ShareTold,
)
from grading.fleet.drifting import Drift, drifts_of
from grading.fleet.looked import Looked, looked_of
from grading.fleet.outcomes import UnderMethod, by_method
from grading.fleet.readers import ACTED_ON, SHARED_LEAST, By, adjusted, compare
from grading.programme.order import contradicted, places_of, sorted_by
from records.register.standing import judged_of, uncounted
from ringtrue.history_told import place_told, visit_told
from ringtrue.pasts import results_of

if TYPE_CHECKING:
    from grading.fleet.effects import Effect, Fitted
    from grading.statistics.mixtures import Interval
    from grading.statistics.shares import Share
    from records.order import Order
    from records.register.merging import Rows


def gathered(documents: Iterable[bytes], order: Order, dampers: Rows) -> tuple[list[Looked], tuple[str, ...]]:
    """Every inspection that counts, of however many bays, in the order in which they were opened, and in a
    sentence each what cannot be read or does not count. What a `keep` that does not stand had read counts,
    and it ended so; what it says of the next does not. A contested one does not count; where it ended in
    replace or measure-again, nothing is due by a `keep` before it either. Serials that differ by capitals or
    spaces alone are one damper's, as written last. documents: the latest revision of each; dampers: the
    register's."""
    looked: list[Looked] = []
    notes: list[str] = []

    def read() -> Iterator[bytes]:
        for document in documents:
            try:
                looked.extend(map(looked_of, results_of([document])))
            except RingtrueError as error:
                notes.append(str(error).removeprefix("records: "))
            yield document

    why = uncounted(judged_of(read(), order), dampers)
    places = places_of(order.lines)
    looked.sort(key=lambda one: sorted_by(_moment(one), places.get(one.inspection), one.inspection))
    written = {bare(one.damper): one.damper for one in looked}
    looked = [
        replace(one, uncounted=why.get(one.inspection), damper=written[bare(one.damper)]) for one in looked
    ]
    notes += (contradicted(name, bays) for name, bays in sorted(order.contradicted.items()))
    return list(_standing(looked, order.contradicted))[::-1], tuple(notes)


def _standing(looked: Sequence[Looked], contested: Container[str]) -> Iterator[Looked]:
    """Those that are not contested, the latest first."""
    amiss: set[str] = set()
    for one in reversed(looked):
        if one.inspection not in contested:
            yield replace(one, next_due=None) if one.damper in amiss else one
        elif one.is_found and one.ended in ("replace", "measure-again"):
            amiss.add(one.damper)


def _moment(one: Looked) -> datetime:
    return datetime.fromisoformat(one.opened)


def fleet_told(documents: Iterable[bytes], order: Order, dampers: Rows) -> FleetTold:
    """All of it, as `gathered`."""
    looked, notes = gathered(documents, order, dampers)
    return FleetTold(
        drifts=drifts_told(looked),
        bays=compared_told(looked, "bay"),
        gauges=compared_told(looked, "gauge"),
        methods=methods_told(looked),
        notes=notes,
    )


def drifts_told(looked: Sequence[Looked]) -> DriftsTold:
    """Who drifts."""
    found = drifts_of(looked)
    return DriftsTold(rows=tuple(map(_drift, found.rows)), dampers=found.dampers, once=found.once)


def compared_told(looked: Sequence[Looked], by: By) -> tuple[ComparedTold, ...]:
    """Which bay, or gauge, reads high."""
    found = compare(looked, by)
    chances = adjusted(found)
    return tuple(_compared(check, fitted, chances) for check, fitted in found.items())


def methods_told(looked: Sequence[Looked]) -> tuple[MethodTold, ...]:
    """What each method came to."""
    return tuple(map(_method, by_method(looked)))


def _drift(row: Drift) -> DriftTold:
    heading, trend = row.heading, row.heading.trend
    assert trend is not None
    return DriftTold(
        damper=row.damper,
        engine=row.latest.engine,
        check=row.check,
        latest=visit_told(row.latest),
        services=row.services,
        by=heading.by,
        growth_mm=_between(trend.rate_mm()),
        rising=heading.rising,
        early=_short(row.early),
        met=_short(row.met),
        day_early=row.day_early,
        day=row.day,
        due=place_told(heading.by, heading.due),
        p_over_at_due=None if heading.p_due is None else round(heading.p_due, 6),
        uncounted=row.uncounted,
    )


def _compared(check: str, fitted: Fitted, chances: dict[tuple[str, str], float]) -> ComparedTold:
    groups = list(dict.fromkeys(one.group for one in fitted.effects if len(one.group) > 1))
    return ComparedTold(
        check=check,
        readers=tuple(
            _reader(one, groups, chances.get((check, one.reader)))
            for one in sorted(fitted.effects, key=_order)
        ),
        growth_mm=None if fitted.growth is None else _between(fitted.growth),
        scatter_mm=None if fitted.scatter is None else _between(fitted.scatter),
    )


def _order(one: Effect) -> tuple[bool, tuple[str, ...], float]:
    """Within each group the highest first; those that cannot be compared at the end."""
    return one.offset is None, one.group, 0.0 if one.offset is None else -one.offset.median


def _reader(one: Effect, groups: Sequence[tuple[str, ...]], chance: float | None) -> ReaderTold:
    reads = None
    sure = chance is not None and chance < ACTED_ON and one.shared >= SHARED_LEAST
    if sure and one.offset is not None:
        reads = "high" if one.offset.median > 0 else "low"
    return ReaderTold(
        reader=one.reader,
        group=groups.index(one.group) + 1 if one.group in groups else None,
        shared=one.shared,
        figures=one.figures,
        offset_mm=None if one.offset is None else _between(one.offset),
        chance=None if one.chance is None else float(f"{one.chance:.3g}"),
        adjusted=None if chance is None else float(f"{chance:.3g}"),
        reads=reads,
        why_none=one.why_none,
    )


def _method(one: UnderMethod) -> MethodTold:
    return MethodTold(
        id=one.method.id,
        version=one.method.version,
        sha256=one.method.sha256,
        first=date.fromisoformat(one.first[:10]),
        last=date.fromisoformat(one.last[:10]),
        inspections=one.inspections,
        bays=one.bays,
        endings={
            ending: ShareTold(
                count=count,
                share=_share(share),
                differs=_share(one.differs[ending]) if ending in one.differs else None,
            )
            for ending, (count, share) in one.endings.items()
        },
        checks=one.checks,
    )


def _between(found: Interval) -> Between:
    return round(found.median, 6), round(found.low, 6), round(found.high, 6)


def _share(found: Share) -> Between:
    return round(found.share, 4), round(found.low, 4), round(found.high, 4)


def _short(intervals: float | None) -> float | None:
    return None if intervals is None else round(intervals, 3)
