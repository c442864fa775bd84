"""A damper's history as lines of at most 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from contract.words import count_of, due_words

if TYPE_CHECKING:
    from contract.lengths import LengthUnit
    from grading.programme.past import History, Spell
    from grading.programme.series import By, Heading, Visit
    from grading.programme.trend import Trend
    from grading.statistics.mixtures import Interval

WIDTH = 80
PER: Mapping[By, float] = {"hours_h": 1_000.0, "distance_km": 100_000.0, "date": 365.25}
"""For how much of each count a rate is told."""
SAID: Mapping[By, str] = {"hours_h": "1000 h", "distance_km": "100 000 km", "date": "year"}
COUNTED: Mapping[By, str] = {"hours_h": "engine hours", "distance_km": "distance", "date": "the calendar"}
FIGURES = {"rim": "true TIR", "face": "true TIR", "thickness": "true spread"}


def engine_lines(engine: str, carried: Sequence[Spell]) -> Iterator[str]:
    """The dampers of an engine, with their dates."""
    yield f"engine {engine} has carried"
    for spell in carried:
        yield f"  {_spell(spell)}"
    if len(carried) > 1:
        yield f"The last one's history; of another: ringtrue history {carried[0].serial}"
    yield ""


def history_lines(history: History, unit: LengthUnit) -> Iterator[str]:
    """All of one damper."""
    built = "" if history.construction is None else f" ({history.construction})"
    yield f"damper {history.damper}{built}"
    for spell in history.engines:
        yield f"  on engine {_spell(spell)}"
    for check, (visits, heading) in history.checks.items():
        yield ""
        yield from _table(check, visits, unit)
        for line in _heading(heading, visits[-1].limit_mm, unit):
            yield from _wrapped(line, "  ")
    if not history.checks:
        yield "  no check was measured on it yet"
    yield ""
    if history.against is not None and history.amiss is None:
        signed, verdict = (str(one).replace("-", " ") for one in (history.verdict, history.against))
        yield from _wrapped(f"latest inspection: {signed}, signed against the verdict {verdict}", "")
    for why in history.uncounted:
        yield from _wrapped(why, "")
    yield from _wrapped(_due(history), "")


def _spell(spell: Spell) -> str:
    days = f"{spell.first}" if spell.first == spell.last else f"{spell.first} to {spell.last}"
    return f"{spell.serial}: {days}, {count_of(spell.inspections, 'inspection')}"


def _table(check: str, visits: Sequence[Visit], unit: LengthUnit) -> Iterator[str]:
    wide = len(unit.number(0.0))
    yield f"{check}: {FIGURES[check]} in {unit.name}"
    columns = f"{'figure':<{2 * wide + 3}}  {'limit':<{wide}}"
    yield f"  {'date':<10}  {'km':>8}  {'h':>7}  {columns}  {'outcome':<7}  gauge"
    for visit in visits:
        figure = "no figure"
        if visit.figure_mm is not None and visit.u_expanded_mm is not None:
            figure = f"{unit.number(visit.figure_mm)} ± {unit.number(visit.u_expanded_mm)}"
        km = "" if visit.distance_km is None else f"{visit.distance_km:.0f}"
        hours = "" if visit.hours_h is None else f"{visit.hours_h:.0f}"
        limit = unit.sentence(f"{visit.limit_mm:g} mm").removesuffix(f" {unit.name}")
        line = (
            f"  {visit.day.isoformat():<10}  {km:>8}  {hours:>7}  {figure:<{2 * wide + 3}}  {limit:<{wide}}  "
            f"{visit.outcome:<7}  {visit.gauge or ''}"
        )
        yield line.rstrip()[:WIDTH]


def _heading(heading: Heading, limit_mm: float, unit: LengthUnit) -> Iterator[str]:
    trend = heading.trend
    if trend is None:
        yield f"no trend yet: {heading.why_none}"
        return
    by = heading.by
    scale = PER[by] / trend.unit
    rate = trend.rate_mm()

    def slope(mm: float) -> str:
        return unit.number(mm * scale, sign="+", more=1)

    yield (
        f"by {COUNTED[by]}: {slope(rate.median)} {unit.name} per {SAID[by]} "
        f"({slope(rate.low)} to {slope(rate.high)}, 95 %)"
    )
    if heading.why_by is not None:
        yield f"not by hours or distance: {heading.why_by}"
    if heading.due is not None and heading.p_due is not None:
        yield (
            f"at the next due ({_at(by, heading.due)}): {_interval(trend.at_mm(heading.due), unit)}, "
            f"chance of being over {_chance(heading.p_due)}"
        )
    yield f"{unit.sentence(f'limit of {limit_mm:g} mm')} met: {_met(heading, trend)}"


def _met(heading: Heading, trend: Trend) -> str:
    by, early = heading.by, heading.met_early
    if heading.met is not None:
        said = f"most likely {_far(by, heading.met, trend)}"
    elif heading.rising:
        said = "not in sight"
    else:
        said = "not in sight, as the slope may be none"
    if early is None:
        return said
    if early <= trend.last:
        return f"{said}; it may be over by now (a chance of 5 % or more)"
    return f"{said}; its chance comes to 5 % {_far(by, early, trend)}"


def _far(by: By, x: float, trend: Trend) -> str:
    away = " (extrapolated)" if x > trend.last + trend.unit else ""
    return f"at {_at(by, x)}{away}"


def _due(history: History) -> str:
    if history.amiss is not None:
        return f"next due: not said: {history.amiss}"
    if history.next_due is None:
        if history.verdict is None:
            done = "counts" if history.uncounted else "was closed"
            return f"next due: not said, as no inspection of it {done}"
        if history.verdict == "keep":
            return "next due: not said, as the latest inspection names none: `ringtrue due` tells the day"
        return f"next due: not said, as the latest inspection ended in {history.verdict}"
    if history.sooner is None:
        return f"next due: {due_words(history.next_due)}"
    return f"next due: {due_words(history.sooner)}; put forward: {history.why_sooner}"


def _at(by: By, x: float) -> str:
    if by == "date":
        return date.fromordinal(int(x)).isoformat()
    return f"{x:,.0f} {'h' if by == 'hours_h' else 'km'}".replace(",", " ")


def _interval(found: Interval, unit: LengthUnit) -> str:
    low, high = unit.number(max(found.low, 0.0)), unit.number(found.high)
    return f"{unit.length(found.median)} ({low} to {high}, 95 %)"


def _chance(p: float) -> str:
    return "below 0.1 %" if p < 0.001 else f"{p * 100:.1f} %"


def _wrapped(line: str, indent: str) -> list[str]:
    return textwrap.wrap(line, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ")
