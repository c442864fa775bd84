"""Readings of a place that others outvoted, with which the casing may be over: how many it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from config.method import ThicknessRules
from grading.evidence import ThicknessReading
from grading.thickness.doubt import Place
from grading.thickness.thickness import NM_PER_MM, Places, name_of


def outvoted(
    places: Places, rules: ThicknessRules, unsettled: Sequence[ThicknessReading] = ()
) -> dict[Place, int]:
    """Of each place the furthest reading, nm, with which the spread or the bulge would be above its limit,
    where fewer than `outnumber` agree against each that was set aside. Further off than `absurd_mm` it is a
    slip, and no casing. unsettled: readings of sets that are not whole or contradict themselves: they make no
    figure, and are heard here, so that one reading against what was over does not take all of it away."""
    allowed_nm, found = round(rules.max_replicate_range_mm * NM_PER_MM), dict[Place, int]()
    for place, kept in places.kept.items():
        own = places.value_nm(place)
        heard = [one.value_nm for one in unsettled if (one.station_deg, one.radius) == place]
        against = [nm for nm in heard if abs(nm - own) > allowed_nm]
        aside = (*places.aside.get(place, ()), *against)
        if len(kept) + len(heard) - len(against) >= rules.outnumber * len(aside):
            continue
        for nm in sorted(aside, key=lambda nm: abs(nm - own)):
            if _would_be_over(place, nm, places, rules):
                found[place] = nm
    return found


def outvoted_said(few: Mapping[Place, int], rules: ThicknessRules) -> str:
    """What to do about them."""
    named = ", ".join(f"{name_of(place)} ({nm / NM_PER_MM:.3f} mm)" for place, nm in few.items())
    return (
        f"a reading that was set aside may be over: read again {named}; it takes {rules.outnumber} that "
        "agree against each such one"
    )


def put_right_said(readings: Iterable[ThicknessReading], places: Places, rules: ThicknessRules) -> list[str]:
    """What was typed first, where with it the casing may have been over: no slip that is seen as one."""
    found = []
    for reading in readings:
        place: Place = (reading.station_deg, reading.radius)
        if place in places.kept and _would_be_over(place, reading.value_nm, places, rules):
            was, now = (nm / NM_PER_MM for nm in (reading.value_nm, places.value_nm(place)))
            found.append(f"{name_of(place)}: typed {was:.3f} mm at first, and put right to {now:.3f} mm")
    return found


def _would_be_over(place: Place, nm: int, places: Places, rules: ThicknessRules) -> bool:
    """Whether the spread or the bulge would be above its limit with this reading at its place."""
    if abs(nm - places.value_nm(place)) > rules.absurd_mm * NM_PER_MM:
        return False
    others = [places.value_nm(other) for other in rules.order if other != place]
    low_nm, high_nm = min(*others, nm), max(*others, nm)
    bulge = rules.bulge
    if bulge is not None and bulge.limit_mm is not None:
        most_mm = bulge.rim_thickness_mm + bulge.limit_mm
        if high_nm / NM_PER_MM > most_mm:
            return True
    return (high_nm - low_nm) / NM_PER_MM > rules.limit_mm
