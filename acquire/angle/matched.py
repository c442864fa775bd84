"""Tags by presses at the start and the end, and by the stops between that were at marks. Pure."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from acquire.angle.between import Known
from acquire.angle.matching import Matching, Stop, match, stops_of
from acquire.angle.moves import blocks_of
from acquire.angle.presses import presses_of, tags_between
from acquire.angle.source import TURN_UDEG
from acquire.angle.spell import Spell
from acquire.angle.tags import Tags
from acquire.angle.warp import way_of
from acquire.journal.events import Stopped
from contract.units import UDEG_PER_DEG
from grading.evidence import F64, StopQuestion

# A stop is the one that a person names where it lies within so many seconds of what was said.
NAMED_S = 3.0
# Readings below which no stop is looked for.
READINGS_MIN = 12
# How it begins what is said of an answer that means no mark, or none of the stops.
NO_SUCH = "there is no stop at"


def tags_by_stops(
    marks_udeg: Sequence[int], u_deg: float, u_time_ns: float, step_nm: int, spell: Spell
) -> Tags:
    """Between presses and the stops found; with a question where it is not nearly certain which those are."""
    known = presses_of(spell)
    times, angles = known.times.tolist(), known.angle_deg.tolist()
    for n, (a, b) in enumerate(itertools.pairwise(known.angle_deg.tolist())):
        marks, sense = _between(marks_udeg, a, b), 1.0 if b > a else -1.0
        here = slice(*np.searchsorted(spell.gauge.times, known.times[n : n + 2]).tolist())
        if not marks.size or here.stop - here.start < READINGS_MIN:
            continue
        began = int(spell.gauge.times[here.start])
        blocks = blocks_of(spell.gauge.times[here], spell.gauge.values[here], step_nm)
        way = way_of(blocks, abs(b - a), np.zeros(0, dtype=np.int64))
        stops = stops_of(blocks, way)
        told = _told(spell, stops, a + sense * marks, began)
        found = match(stops, marks, float(way.deg[-1]), float(way.variance[-1]), abs(b - a), told)
        if found.doubtful is not None:
            since_s = (began - int(known.times[0])) / 1e9
            where = float(a + sense * marks[found.doubtful])
            question = _question(found, found.doubtful, stops, where, since_s)
            last = _answers(spell)[-1:]
            if last and _meant(last[0], stops, a + sense * marks, began) is None:
                at_s = (last[0].at_ns - int(known.times[0])) / 1e9
                mark = last[0].angle_udeg / UDEG_PER_DEG
                said = f"{NO_SUCH} {at_s:.0f} s, or no mark at {mark:g} degrees; {question.said}"
                question = replace(question, said=said)
            return replace(Tags.none(spell.gauge.times.size), question=question)
        for mark, number in zip(marks.tolist(), found.stop, strict=True):
            if number is not None:
                times.append(began + round(0.5e9 * (stops[number].from_s + stops[number].to_s)))
                angles.append(a + sense * mark)
    order = np.argsort(times, kind="stable")
    at, deg = np.array(times, dtype=np.int64)[order], np.array(angles, dtype=np.float64)[order]
    runs = [slice(0, at.size)] if at.size else []
    return tags_between(Known(at, deg, np.zeros_like(at), runs), u_deg, u_time_ns, step_nm, spell)


def _between(marks_udeg: Sequence[int], a: float, b: float) -> F64:
    """Marks that lie strictly between two angles, degrees from the first, in order."""
    low, high = (round(each * UDEG_PER_DEG) for each in (min(a, b), max(a, b)))
    first = low // TURN_UDEG - 1
    turns = range(first, first + (high - low) // TURN_UDEG + 4)
    inside = {m + t * TURN_UDEG for m in marks_udeg for t in turns if low < m + t * TURN_UDEG < high}
    return np.sort(np.abs(np.array(sorted(inside), dtype=np.float64) / UDEG_PER_DEG - a))


def _told(spell: Spell, stops: Sequence[Stop], marks_deg: F64, began_ns: int) -> dict[int, int]:
    """Which stop a person says was at a mark, the latest word on each."""
    meant = (_meant(event, stops, marks_deg, began_ns) for event in _answers(spell))
    return dict(one for one in meant if one is not None)


def _answers(spell: Spell) -> list[Stopped]:
    """What a person said of stops, in order."""
    return [event for event in spell.events if isinstance(event, Stopped)]


def _meant(event: Stopped, stops: Sequence[Stop], marks_deg: F64, began_ns: int) -> tuple[int, int] | None:
    """Which mark and which stop one answer is of; None where there is no such."""
    off_deg = np.abs(marks_deg - event.angle_udeg / UDEG_PER_DEG)
    at_s = (event.at_ns - began_ns) / 1e9
    off_s = [max(stop.from_s - at_s, at_s - stop.to_s, 0.0) for stop in stops]
    if off_deg.min() >= 0.5 or min(off_s, default=np.inf) > NAMED_S:
        return None
    return int(np.argmin(off_deg)), int(np.argmin(off_s))


def _question(
    found: Matching, mark: int, stops: Sequence[Stop], mark_deg: float, since_s: float
) -> StopQuestion:
    """What the bench is asked, and how it is answered."""
    may_be = [stops[number] for number in found.likely[mark]]
    asked = tuple((round(since_s + one.middle_s, 1), round(one.lasted_s, 1)) for one in may_be)
    if not asked:
        said = f"no stop is seen that can have been at {mark_deg:g} degrees; take the sweep again and press"
        return StopQuestion(mark_deg, (), f"{said} each mark")
    which = " or the one ".join(
        f"{at_s:.0f} s after the first press ({lasted_s:.0f} s long)" for at_s, lasted_s in asked
    )
    ways = " or ".join(f"at_s={at_s:.0f}" for at_s, _ in asked)
    said = (
        f"the crank's angles are not sure: which stop was at {mark_deg:g} degrees, the one {which}? answer "
        f"with mark angle_deg={mark_deg:g} and {ways}; or take the sweep again and press each mark"
    )
    return StopQuestion(mark_deg, asked, said)
