"""A fleet as lines of at most 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from contract.words import count_of
from ringtrue.columned import DASH, sentences, table

if TYPE_CHECKING:
    from contract.lengths import LengthUnit
    from display.web.fleets import Between, ComparedTold, DriftsTold, DriftTold, MethodTold, ReaderTold

MOST = 18
"""Letters of a damper's or a reader's name in a table."""


def drift_lines(told: DriftsTold, unit: LengthUnit) -> Iterator[str]:
    """Who drifts."""
    yield (
        f"{count_of(told.dampers, 'damper')} with a trend, {len(told.rows)} to be told of; "
        f"{count_of(told.once, 'damper')} without one yet"
    )
    if not told.rows:
        return
    head = ["damper", "check", f"latest, {unit.name}", "limit", "5 %", "50 %"]
    rows = [
        [
            _cut(row.damper),
            row.check,
            f"{unit.number(row.latest.figure_mm)} ± {unit.number(row.latest.u_expanded_mm)}",
            unit.number(row.latest.limit_mm),
            _when(row.early, row.day_early),
            _when(row.met, row.day),
        ]
        for row in told.rows
    ]
    first, *lines = table(head, rows)
    yield first
    for row, line in zip(told.rows, lines, strict=True):
        yield line
        yield from sentences([_growth(row, unit), *row.uncounted])


def _when(intervals: float | None, day: object) -> str:
    if intervals is None:
        return DASH
    return "now" if intervals <= 0 else f"~{day}" if day is not None else f"in {intervals:.1f} interv."


def _growth(row: DriftTold, unit: LengthUnit) -> str:
    said = f"{_signed(row.growth_mm, unit)} {unit.name} an interval, over {count_of(row.services, 'service')}"
    if row.p_over_at_due is not None:
        at = f"{row.due:.0f}" if isinstance(row.due, float) else str(row.due)
        said += f"; chance of being over at the next due ({at}) {row.p_over_at_due * 100:.2g} %"
    return said if row.rising else f"{said}; it may be none"


def compared_lines(told: Sequence[ComparedTold], what: str, unit: LengthUnit) -> Iterator[str]:
    """Which bay or gauge reads high."""
    if not told:
        yield "no figure that counts is on record yet"
    for part in told:
        sites = {one.reader.partition("/")[0] for one in part.readers}
        site = sites.pop() if len(sites) == 1 else None  # said once where it is the same of all
        at = "" if site is None else f" at {site}"
        yield f"{part.check}{at}, {unit.name}" + _scatter(part, unit)
        groups = {one.group for one in part.readers if one.offset_mm is not None}
        for group in sorted(groups, key=lambda number: number or 0):
            those = [one for one in part.readers if one.group == group and one.offset_mm is not None]
            yield from (f"  {line}" for line in _group(those, what, unit, site))
        left = [one for one in part.readers if one.offset_mm is None]
        yield from sentences((f"{one.reader} cannot be compared: {one.why_none}" for one in left), "  ")


def _scatter(part: ComparedTold, unit: LengthUnit) -> str:
    if part.scatter_mm is None:
        return ""
    middle, low, high = (unit.number(mm) for mm in part.scatter_mm)
    return f": services scatter by {middle} ({low} to {high})"


def _group(those: Sequence[ReaderTold], what: str, unit: LengthUnit, site: str | None) -> list[str]:
    rows = [
        [
            _cut(one.reader if site is None else one.reader.removeprefix(f"{site}/"), 26),
            str(one.shared),
            _signed(one.offset_mm or (0.0, 0.0, 0.0), unit),
            _chance(one.adjusted),
            one.reads or "",
        ]
        for one in those
    ]
    return table([what, "dampers", "reads higher by", "chance", ""], rows, right=(1, 3))


def method_lines(told: Sequence[MethodTold]) -> Iterator[str]:
    """What each method came to."""
    if not told:
        yield "no inspection on record was closed yet"
    before: MethodTold | None = None
    for one in told:
        days = f"{one.first}" if one.first == one.last else f"{one.first} to {one.last}"
        yield f"{one.id} {one.version} ({one.sha256[:8]}): {days}"
        yield f"  {count_of(one.inspections, 'inspection')} closed, in {count_of(len(one.bays), 'bay')}"
        head = ["", "", "share, %", "" if before is None else f"against {before.id} {before.version}, points"]
        rows = [
            [_ENDED.get(ending, ending), str(of.count), _percent(of.share), _against(of.differs)]
            for ending, of in one.endings.items()
        ]
        yield from (f"  {line}" for line in table(head, rows, right=(1,)) if line)
        before = one


_ENDED = {"unclear": "a check unclear", "invalid": "a check invalid"}


def _percent(share: Between) -> str:
    return f"{share[0] * 100:.0f} ({share[1] * 100:.0f} to {share[2] * 100:.0f})"


def _against(differs: Between | None) -> str:
    if differs is None:
        return ""
    said = f"{differs[0] * 100:+.0f} ({differs[1] * 100:+.0f} to {differs[2] * 100:+.0f})"
    return f"{said}, more than chance" if differs[1] > 0 or differs[2] < 0 else said


def _chance(p: float | None) -> str:
    return DASH if p is None else "<0.001" if p < 0.001 else f"{p:.3f}"


def _signed(found: Between, unit: LengthUnit) -> str:
    middle, low, high = (unit.number(mm, sign="+") for mm in found)
    return f"{middle} ({low} to {high})"


def _cut(text: str, most: int = MOST) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"
