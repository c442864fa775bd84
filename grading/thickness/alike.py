"""Places of a casing that read the same one after the other: one reading, sent again."""

from __future__ import annotations

import math
from collections.abc import Sequence

from config.method import ThicknessRules
from contract.units import NM_PER_MM
from grading.evidence import ThicknessReading
from grading.thickness.doubt import Place
from grading.thickness.thickness import Places, name_of


def held(
    readings: Sequence[ThicknessReading], step_mm: float, rules: ThicknessRules
) -> tuple[tuple[Place, ...], int]:
    """The longest run of places, in the order taken, that read the same as no casing's would, and what they
    read, nm; none, and 0, where there is no such run.

    Places that differ evenly within `alike_mm` show the next one's number again once in `alike_mm` / step
    (classical probability); a run may begin anywhere. A place that was read otherwise too shows that its
    gauge moved, and is in no run.
    """
    values: dict[Place, set[int]] = {}
    for one in readings:
        values.setdefault((one.station_deg, one.radius), set()).add(one.value_nm)
    longest: tuple[Place, ...] = ()
    run: list[Place] = []
    at_nm = found_nm = 0
    for one in readings:
        place = one.station_deg, one.radius
        if len(values[place]) > 1:
            continue
        if one.value_nm != at_nm:
            run, at_nm = [], one.value_nm
        if place not in run:
            run.append(place)
        if len(run) > len(longest):
            longest, found_nm = tuple(run), at_nm
    same = step_mm / rules.alike_mm if rules.alike_mm else 1.0
    starts = len(values) - len(longest) + 1
    if len(longest) < 2 or starts * same ** (len(longest) - 1) >= rules.alike_chance:
        return (), 0
    return longest, found_nm


def held_said(places: Sequence[Place], at_nm: int) -> str:
    """What to do about it."""
    named = ", ".join(map(name_of, places))
    return (
        f"{len(places)} places one after the other read {at_nm / NM_PER_MM:.3f} mm, as no casing does: see "
        f"that the gauge does not hold its reading, and read again {named}"
    )


def copies(
    sets: Sequence[Sequence[ThicknessReading]],
    faults: Sequence[list[str]],
    step_mm: float,
    rules: ThicknessRules,
) -> dict[int, list[str]]:
    """Why a set does not count, by its number: to the last digit it is one before it that does, as no hand
    repeats readings by chance, and says nothing of how they repeat.

    A reading that repeats as well as `repeatability_least_mm` shows the same step again but where it leaves
    it: one that lies anywhere in its step, and moves by |d|, does so |d| / step of the times, and |d| of two
    normal ones is 2 / sqrt(pi) of their deviation on average.
    """
    leaves = min(1.0, 2.0 / math.sqrt(math.pi) * rules.repeatability_least_mm / step_mm)
    found: dict[int, list[str]] = {}
    read = [sorted((one.station_deg, one.radius, one.value_nm) for one in each) for each in sets]
    for i, own in enumerate(read):
        before = [j for j in range(i) if read[j] == own and not faults[j] and j not in found]
        if before and not faults[i] and (1.0 - leaves) ** len(own) < rules.copied_chance:
            found[i] = [
                f"set {i + 1} is to the last digit set {before[0] + 1}, which no hand repeats: read every "
                "place again"
            ]
    return found


def all_alike(places: Places) -> list[str]:
    """What to look at where a coarser display shows the same all around."""
    each = {nm for values in places.kept.values() for nm in values}
    if len(each) > 1:
        return []
    return [
        f"all places read {each.pop() / NM_PER_MM:.3f} mm: see that the gauge does not hold its reading and "
        "was moved from place to place"
    ]
