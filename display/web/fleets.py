"""What is told of a whole fleet over all its bays, as plain data; lengths in mm.

An interval is median (or estimate), low and high end, of 95 %.
"""

from __future__ import annotations

from datetime import date

from display.web.recorded import Place, Told, VisitTold

Between = tuple[float, float, float]


class DriftTold(Told):
    """A damper whose figure grows. growth_mm: per usual interval (3 000 h, 200 000 km or a year). early: in
    how many of these after its latest figure the chance of being over comes to 5 %; met: to one half; no key
    where that is not in sight. day_early, day: the same at the pace so far. p_over_at_due: the chance of
    being over where the next inspection is due. uncounted: of each `keep` since the latest inspection whose
    end counts, which does not stand, why."""

    damper: str
    engine: str
    check: str
    latest: VisitTold
    services: int
    by: str
    growth_mm: Between
    rising: bool
    early: float | None = None
    met: float | None = None
    day_early: date | None = None
    day: date | None = None
    due: Place | None = None
    p_over_at_due: float | None = None
    uncounted: tuple[str, ...] = ()


class DriftsTold(Told):
    """The nearest to its limit first. dampers: how many have a trend; once: that were read once and have
    none."""

    rows: tuple[DriftTold, ...]
    dampers: int
    once: int


class ReaderTold(Told):
    """A bay, or a gauge of one, held against the mean of the others of its group (its number; none where it
    has none). offset_mm: how much higher it reads. chance: of as much or more where it reads as they do, and
    adjusted for all comparisons made at once; reads: `high` or `low` where that is below 5 %. why_none: why
    it cannot be told."""

    reader: str
    group: int | None = None
    shared: int
    figures: int
    offset_mm: Between | None = None
    chance: float | None = None
    adjusted: float | None = None
    reads: str | None = None
    why_none: str | None = None


class ComparedTold(Told):
    """One check. growth_mm: of all dampers, per usual interval; scatter_mm: one service to the next."""

    check: str
    readers: tuple[ReaderTold, ...]
    growth_mm: Between | None = None
    scatter_mm: Between | None = None


class ShareTold(Told):
    """count of all. share, differs: share of all, and how it differs from the method
    before, with intervals that all hold together."""

    count: int
    share: Between
    differs: Between | None = None


class MethodTold(Told):
    """What was closed under one method. endings: by verdict, and with a check that was unclear or invalid.
    checks: by check how many of each outcome."""

    id: str
    version: str
    sha256: str
    first: date
    last: date
    inspections: int
    bays: tuple[str, ...]
    endings: dict[str, ShareTold]
    checks: dict[str, dict[str, int]]


class FleetTold(Told):
    """All of it. notes: what could not be read."""

    drifts: DriftsTold
    bays: tuple[ComparedTold, ...]
    gauges: tuple[ComparedTold, ...]
    methods: tuple[MethodTold, ...]
    notes: tuple[str, ...]
