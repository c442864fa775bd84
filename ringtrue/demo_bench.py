"""The bench half of a demonstration: looked at, measured place by place, penetrant, warmed."""

from __future__ import annotations

import random
from collections.abc import Awaitable, Callable
from typing import Any

from config.method import ItemRule, Method
from contract.live import Live
from contract.result import Result, ThicknessCheck
from contract.terms import ObservedName
from contract.units import NM_PER_MM
from contract.words import count_of
from link.client import BayClient
from simulators.casing import Casing
from simulators.gauge import SimGauge

# A casing worn a little thin on one side, that may stay.
HAUL_TRUCK_CASING = Casing(wedge_mm=0.018, wedge_deg=70.0)
# How a careful hand repeats at one place, standard deviation in mm; common practice, no source.
HAND_MM = 0.0008
# Seconds that the bay may take to hear a key or to grade: far above the usual.
NEWS_MAX_S = 20.0

# Virtual seconds, so that the wall can be watched: to go to the next place, and to look at what was found.
NEXT_PLACE_S, LOOK_S = 1.0, 2.0

Say = Callable[[str, str], None]


class Bench:
    """gauge: the micrometer, without noise of its own. write: to its line. say: a word and a line. live: what
    the bay said last of this inspection. wait: for virtual seconds."""

    def __init__(
        self,
        method: Method,
        gauge: SimGauge,
        write: Callable[[bytes], object],
        seed: int,
        say: Say,
        live: Callable[[], Live | None],
        wait: Callable[[float], Awaitable[None]],
    ) -> None:
        self._wait = wait
        self._live = live
        self._method = method
        self._gauge = gauge
        self._write = write
        self._hand = random.Random(f"micrometer {seed}")  # noqa: S311 a simulation, no secret
        self._say = say

    async def inspect(self, client: BayClient, name: str, result: Callable[[], Result | None]) -> None:
        """Everything that the method asks of a damper on the bench. name: of the micrometer."""
        await self._look(client, "visual-bench")
        await self._measure(client, name, result)
        await self._look(client, "penetrant")
        await self._look(client, "warm-leak")

    async def _look(self, client: BayClient, check: ObservedName) -> None:
        items = self._method.observed[check].item
        await client.command("record", check=check, items=[_good(item) for item in items])
        figures = [_figure(item) for item in items if item.figure is not None]
        said = f"{count_of(len(items), 'thing')} looked at, all good"
        self._say(check, ", ".join([said, *figures]))
        await self._wait(LOOK_S)

    async def _measure(self, client: BayClient, name: str, result: Callable[[], Result | None]) -> None:
        zero_mm = self._method.thickness.zero_at_mm
        places = [
            HAUL_TRUCK_CASING.thickness_mm(station, radius)
            for station, radius in self._method.thickness.order
        ]
        asks_zero = self._method.thickness.zero_mm is not None
        zeros = "; zero before and after" if asks_zero else ""
        self._say("thickness", f"{count_of(len(places), 'place')}, key pressed at each{zeros}")
        await client.command("begin", check="thickness", gauge=name)
        await client.until(self._is_measuring, NEWS_MAX_S, "the beginning of the thickness")
        for value_mm in [*([zero_mm] if asks_zero else []), *places, *([zero_mm] if asks_zero else [])]:
            await self._press(client, name, value_mm + self._hand.gauss(0.0, HAND_MM))

        def measured() -> ThicknessCheck | None:
            found = result()
            check = None if found is None else found.checks.thickness
            return None if check is None or check.outcome == "missing" else check

        await client.until(lambda: measured() is not None, NEWS_MAX_S, "the result of the thickness")
        check = measured()
        assert check is not None
        self._say("thickness", thickness_text(check))

    def _is_measuring(self) -> bool:
        now = self._live()
        return now is not None and now.check == "thickness"

    async def _press(self, client: BayClient, name: str, value_mm: float) -> None:
        def place() -> object:
            now = self._live()
            return None if now is None else (now.check, now.next_station_deg, now.next_radius)

        await self._wait(NEXT_PLACE_S)
        before = place()
        self._write(self._gauge.press(lambda _: value_mm * NM_PER_MM, 0)[1])
        await client.until(lambda: place() != before, NEWS_MAX_S, f"a reading of {name}")


def thickness_text(check: ThicknessCheck) -> str:
    """The bench's figure as one line; the reason where there is none."""
    if check.true_spread_mm is None or check.outcome == "invalid":
        return f"{check.outcome}: {check.reason}"
    estimate = f"{check.true_spread_mm:.3f} ± {check.u_expanded_mm or 0.0:.3f} mm"
    return f"{check.outcome}: true spread {estimate}, limit {check.limit_mm:.3f} mm"


def _good(item: ItemRule) -> dict[str, Any]:
    said: dict[str, Any] = {"item": item.id, "seen": "good"}
    if item.figure is not None:
        said[item.figure] = _within(item)
    return said


def _within(item: ItemRule) -> float:
    """A figure between the method's bounds."""
    bounds = [bound for bound in (item.least, item.most) if bound is not None]
    return sum(bounds) / len(bounds) if bounds else 30.0


def _figure(item: ItemRule) -> str:
    unit = {"time_min": "min", "temperature_c": "°C"}[item.figure or "time_min"]
    return f"{item.id} {_within(item):g} {unit}"
