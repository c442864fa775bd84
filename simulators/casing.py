"""How thick a damper's casing is, place by place: a wedge from its making, a swelling, and paint on top."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from contract.terms import Radius
from simulators.damper import Local

Places = Iterable[tuple[float, Radius]]
"""Stations in degrees and radii, as the method has them."""


@dataclass(frozen=True, slots=True)
class Casing:
    """rim_mm: thickness where nothing is amiss. wedge_mm: half of what it varies by once around, thickest at
    `wedge_deg`. swelling: what pressure or heat has raised, of which the inner radius, further from the
    stiff edge, shows all and the outer one `outer_share`: our own, no source. paint_mm: thickest layer of
    paint, uneven, while it is on.
    """

    rim_mm: float = 40.27
    wedge_mm: float = 0.02
    wedge_deg: float = 0.0
    swelling: Local | None = None
    outer_share: float = 0.4
    paint_mm: float = 0.12

    def thickness_mm(self, station_deg: float, radius: Radius, *, painted: bool = False) -> float:
        """At one place; `painted`: over the paint."""
        share = self.outer_share if radius == "outer" else 1.0
        value = self.rim_mm + self.wedge_mm * math.cos(math.radians(station_deg - self.wedge_deg))
        if self.swelling is not None:
            value += share * self.swelling.value_mm(station_deg)
        if painted:
            layer = math.sin(math.radians(2.3 * station_deg + (50.0 if radius == "outer" else 190.0)))
            value += self.paint_mm * layer * layer
        return value

    def spread_mm(self, places: Places) -> float:
        """Highest less lowest of the bare casing at these places."""
        values = [self.thickness_mm(station_deg, radius) for station_deg, radius in places]
        return max(values) - min(values)
