"""The crank angle of every reading of a sweep, and how well it is known. Pure.

Final tags, made when a sweep is over, look both ways. How they come about is the source's
(`acquire.angle.source`); here they become a sweep.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import cast

import numpy as np

from acquire.angle.sources import source_of
from acquire.angle.spell import I64, spells_of
from acquire.errors import FoldError
from acquire.journal.events import (
    Event,
    GaugeAway,
    GaugeBack,
    Resumed,
    Sample,
    SweepBegun,
    TypedRunout,
)
from acquire.journal.typed import counting
from contract.kinds import takes
from contract.terms import Surface
from contract.units import NM_PER_MM, UDEG_PER_DEG
from grading.evidence import F64, Sweep


def tag_sweep(events: Sequence[Event]) -> Sweep:
    """The sweep of one run-out check, from its SweepBegun on, in journal order.

    Readings come out in order of time, each once, whatever the order and number in which they were
    kept. One without a known angle (before the first position, after the last, while the encoder was
    away, across a restart) is left out; the latter two are counted in `lost`, as are holes in the
    gauge's own numbering. Raises FoldError where the events are no run-out sweep.
    """
    begun = events[0] if events else None
    if not isinstance(begun, SweepBegun) or takes(begun.check) != "turn":
        raise FoldError("a run-out sweep must start with its beginning")
    if begun.angle.source == "typed":
        return _typed(begun, events)
    spells = spells_of(begun, events)
    angle, u, value, time = [], [], [], []
    places: dict[int, tuple[I64, F64]] = {}
    lost, clock_s, began_s, breaks_s = 0, 0.0, [], []
    tagged = source_of(begun).tags(spells)
    for number, (spell, tags) in enumerate(zip(spells, tagged, strict=True)):
        times, known = spell.gauge.times, tags.known
        lost += spell.gauge.holes
        if not known.any():
            continue
        first, last = np.flatnonzero(known)[[0, -1]]
        places[number] = times[known], tags.angle_deg[known]
        lost += int((~known[first : last + 1]).sum())
        angle.append(tags.angle_deg[known])
        u.append(tags.u_deg[known])
        value.append(spell.gauge.values[known] / NM_PER_MM)
        # Clocks of different spells do not compare: one spell's times go on where the last's ended.
        since_s = (times[known] - times[first]) / 1e9 + clock_s
        breaks_s += [
            (event.time_ns - int(times[first])) / 1e9 + clock_s
            for event in spell.events
            if isinstance(event, GaugeAway) and event.gauge == begun.gauge.id
        ]
        clock_s = float(since_s[-1])
        time.append(since_s)
        began_s.append(int(times[first]) / 1e9)
    return Sweep(
        surface=_surface(begun),
        angle_deg=_joined(angle),
        value_mm=_joined(value),
        angle_u_deg=_joined(u),
        time_s=_joined(time),
        gauge=begun.gauge,
        angles_run_on=True if any(tags.runs_on for tags in tagged) else None,
        stood_mm=next((tags.stood_mm for tags in tagged if tags.stood_mm is not None), None),
        question=next((tags.question for tags in tagged if tags.question is not None), None),
        radius_mm=None if begun.radius_nm is None else begun.radius_nm / NM_PER_MM,
        lost=lost,
        interrupted=tuple(_interruptions(events, places)),
        clock_s=began_s[0] if began_s else 0.0,
        breaks_s=tuple(breaks_s),
        slips=tuple(slip for tags in tagged for slip in tags.slips),
        delay=next((tags.delay for tags in tagged if tags.delay is not None), None),
        angle_zero=begun.angle.zero_at(begun.angle.zero),
    )


def _surface(begun: SweepBegun) -> Surface:
    """Whose turn it is."""
    return cast(Surface, begun.check)


def _typed(begun: SweepBegun, events: Sequence[Event]) -> Sweep:
    typed = [event for event in counting(events) if isinstance(event, TypedRunout)]
    return Sweep(
        surface=_surface(begun),
        angle_deg=np.array([event.angle_udeg for event in typed], dtype=np.float64) / UDEG_PER_DEG,
        value_mm=np.array([event.value_nm for event in typed], dtype=np.float64) / NM_PER_MM,
        angle_u_deg=np.full(len(typed), begun.angle.mark_u_udeg / UDEG_PER_DEG),
        time_s=np.zeros(len(typed)),
        gauge=begun.gauge,
        radius_mm=None if begun.radius_nm is None else begun.radius_nm / NM_PER_MM,
        low_mm=_seen_mm([event.low_nm for event in typed]),
        high_mm=_seen_mm([event.high_nm for event in typed]),
        angle_zero="timing-mark",
        put_right=tuple(_put_right(events)),
    )


def _put_right(events: Sequence[Event]) -> Iterator[tuple[float, float, float]]:
    """Each figure that was typed and then another in its place, as `Sweep.put_right`."""
    typed = [event for event in events if isinstance(event, TypedRunout)]
    counts = {event.replaces or event.seq: event for event in counting(typed)}
    for event in typed:
        now = counts[event.replaces or event.seq]
        figures = ((event.value_nm, now.value_nm), (event.low_nm, now.low_nm), (event.high_nm, now.high_nm))
        for was_nm, now_nm in figures:
            if was_nm is not None and now_nm is not None and was_nm != now_nm:
                yield event.angle_udeg / UDEG_PER_DEG, was_nm / NM_PER_MM, now_nm / NM_PER_MM


def _seen_mm(seen: Sequence[int | None]) -> F64 | None:
    """What the needle showed between stops, NaN where nobody looked; None where nobody did at all."""
    if all(nm is None for nm in seen):
        return None
    return np.array([np.nan if nm is None else nm / NM_PER_MM for nm in seen], dtype=np.float64)


def _interruptions(events: Sequence[Event], places: Mapping[int, tuple[I64, F64]]) -> Iterator[str]:
    """One plain phrase for each spell without the gauge, the encoder or the daemon, as they began, with where
    the crank was. places: times and angles that are known, of one start of the daemon after the other."""
    events = [event for event in events if not isinstance(event, Sample)]
    number = 0
    for n, event in enumerate(events):
        if isinstance(event, Resumed):
            yield "the daemon was restarted"
            number += 1
        elif isinstance(event, GaugeAway):
            where = _where(places.get(number), event.time_ns)
            yield f"{event.gauge} was away {_how_long(event, events[n + 1 :])}{where}"


def _where(place: tuple[I64, F64] | None, time_ns: int) -> str:
    """Where the crank was last known to be before that time."""
    if place is None:
        return ""
    times, angle = place
    n = int(np.searchsorted(times, time_ns, side="right"))
    return f", from {angle[n - 1] % 360.0:.0f} degrees on" if n else ""


def _how_long(away: GaugeAway, after: Sequence[Event]) -> str:
    for event in after:
        if isinstance(event, GaugeBack) and event.gauge == away.gauge:
            return f"for {(event.time_ns - away.time_ns) / 1e9:.1f} s"
        if isinstance(event, Resumed):
            return "until a restart"
    return "until the end"


def _joined(parts: Sequence[F64]) -> F64:
    return np.concatenate([np.zeros(0), *parts]).astype(np.float64)
