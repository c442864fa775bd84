"""The micrometer on the bench: to the next place that the bay asks for, and its key pressed."""

from __future__ import annotations

from contract.live import Live
from ringtrue.demo_folder import MICROMETER
from ringtrue.practice.bay import PracticeBay
from ringtrue.practice.diary import Diary
from ringtrue.practice.lines import Lines
from ringtrue.practice.workshop import ActError, Workshop
from simulators.gauge import SimGauge
from simulators.specimen import NM_PER_MM

# How a careful hand repeats at one place, standard deviation in mm; common practice, no source.
HAND_MM = 0.0008
# The most places in one act.
PLACES_MOST = 48


class Micrometer:
    """gauge: its own noise is none; the hand's is drawn here."""

    def __init__(
        self, gauge: SimGauge, workshop: Workshop, lines: Lines, bay: PracticeBay, diary: Diary
    ) -> None:
        self._gauge = gauge
        self._workshop = workshop
        self._lines = lines
        self._bay = bay
        self._diary = diary

    async def measure(self, places: int) -> list[str]:
        """At so many places, one after another. Raises ActError."""
        shop, said = self._workshop, list[str]()
        if shop.is_on_engine:
            raise ActError("micrometer: the damper is on the engine: off takes it to the bench")
        if not 1 <= places <= PLACES_MOST:
            raise ActError(f"micrometer: a number of places from 1 to {PLACES_MOST}, or none for one")
        for _ in range(places):
            live = self._bay.live
            if live is None or live.check != "thickness" or live.next_radius is None:
                if said:
                    break
                raise ActError("micrometer: begin thickness first; the bay then says at which place")
            said.append(await self._press(live))
        return said

    async def _press(self, live: Live) -> str:
        station_deg, radius, taken = live.next_station_deg, live.next_radius, _taken(live)
        station_deg = station_deg or 0.0
        assert radius is not None
        shop = self._workshop
        if radius == "zero":  # closed, or on its setting standard
            place, value_mm = "zero", self._bay.method.thickness.zero_at_mm
        else:
            place = f"station {station_deg:g}°, {radius}"
            painted = not shop.bench.is_bare
            if painted:
                self._diary.fault(
                    "paint", "thickness was measured over paint and dirt: wipe the damper first"
                )
            value_mm = shop.specimen.casing.thickness_mm(station_deg, radius, painted=painted)
        value_mm += self._lines.rng("hand").gauss(0.0, HAND_MM)
        shown_nm = self._lines.press(self._gauge, MICROMETER, value_mm * NM_PER_MM)

        def heard() -> bool:
            now = self._bay.live
            return now is None or now.check != "thickness" or _taken(now) != taken

        if not await self._bay.until(heard):
            raise ActError("micrometer: the bay has not heard the key; is micrometer-1 connected?")
        return f"{place}: {shown_nm / NM_PER_MM:.3f} mm"


def _taken(live: Live) -> tuple[object, ...]:
    """What another reading changes: a zero is none of the counted ones."""
    return live.readings, live.next_station_deg, live.next_radius
