"""A virtual damper whose geometry is known, so that what a gauge should find is known as well.

Angles are crank angles: a surface's value at angle a is what a fixed plunger feels when the crank
has been barred to a, plunger in positive.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

# Points in a turn at which `tir_mm` looks for the crest and the valley; 0.01 degrees apart, so that a
# crest of 0.3 mm is missed by less than a nanometre.
TIR_POINTS = 36_000
# Points at which it looks first, 0.1 degrees apart: no dent or bulge of ours is so narrow.
COARSE_POINTS = 3_600


@dataclass(frozen=True, slots=True)
class Local:
    """A dent (negative) or a bulge (positive): one raised cosine of full width `width_deg`."""

    at_deg: float
    width_deg: float
    height_mm: float

    def value_mm(self, angle_deg: float) -> float:
        """Height at a crank angle; zero outside its width."""
        away = (angle_deg - self.at_deg + 180.0) % 360.0 - 180.0
        if abs(away) >= self.width_deg / 2.0:
            return 0.0
        return self.height_mm * 0.5 * (1.0 + math.cos(2.0 * math.pi * away / self.width_deg))


@dataclass(frozen=True, slots=True)
class Order:
    """A wave that comes `order` times a turn, as on a toothed rim: crests of `amplitude_mm`, the first at
    `crest_deg`.
    """

    order: int
    amplitude_mm: float
    crest_deg: float = 0.0

    def value_mm(self, angle_deg: float) -> float:
        """Height at a crank angle."""
        return self.amplitude_mm * math.cos(self.order * math.radians(angle_deg - self.crest_deg))


def notches(count: int, *, width_deg: float, depth_mm: float, first_deg: float = 0.0) -> tuple[Local, ...]:
    """Equal notches spaced evenly over the turn, each as wide and deep as stated."""
    return tuple(Local(first_deg + 360.0 * n / count, width_deg, -depth_mm) for n in range(count))


@dataclass(frozen=True, slots=True)
class Damper:
    """The geometry of one damper on its crankshaft.

    rim_radius_mm: of the rim where the plunger stands. eccentricity_mm: offset of the rim's centre
    from the axis, towards the plunger at crank angle `eccentricity_deg`. ovality_mm: amplitude of
    the second harmonic, first crest at `ovality_deg`. rim_orders: waves of other orders, as of teeth.
    face_radius_mm: distance of the face's plunger from the axis. tilt_mrad: of the face's plane against
    the axis; nearest the plunger at `tilt_deg`. end_float_mm: how far the crankshaft can move along its
    axis.
    """

    rim_radius_mm: float = 150.0
    eccentricity_mm: float = 0.0
    eccentricity_deg: float = 0.0
    ovality_mm: float = 0.0
    ovality_deg: float = 0.0
    rim_locals: tuple[Local, ...] = ()
    rim_orders: tuple[Order, ...] = ()
    face_radius_mm: float = 140.0
    tilt_mrad: float = 0.0
    tilt_deg: float = 0.0
    face_locals: tuple[Local, ...] = ()
    end_float_mm: float = 0.0

    def rim_mm(self, angle_deg: float) -> float:
        """Radial distance from the axis less the rim's radius, for a circle exactly.

        A circle of radius R whose centre lies e off the axis is e cos t + sqrt(R² - e² sin² t) from
        it (plane geometry); its largest less its smallest is 2 e.
        """
        turn = math.radians(angle_deg - self.eccentricity_deg)
        e, radius = self.eccentricity_mm, self.rim_radius_mm
        value = e * math.cos(turn) + math.sqrt(radius**2 - (e * math.sin(turn)) ** 2) - radius
        value += self.ovality_mm * math.cos(2.0 * math.radians(angle_deg - self.ovality_deg))
        value += sum(order.value_mm(angle_deg) for order in self.rim_orders)
        return value + sum(local.value_mm(angle_deg) for local in self.rim_locals)

    def face_mm(self, angle_deg: float, float_share: float = 0.0) -> float:
        """Axial position of the face under its plunger; a plane tilted by a spans 2 r tan a.

        float_share: where in its end float the crankshaft is, 0 held in, 1 at the other end.
        """
        turn = math.radians(angle_deg - self.tilt_deg)
        value = self.face_radius_mm * math.tan(self.tilt_mrad / 1000.0) * math.cos(turn)
        value += sum(local.value_mm(angle_deg) for local in self.face_locals)
        return value + self.end_float_mm * float_share

    def rim_tir_mm(self) -> float:
        """The rim's true TIR over a full turn."""
        return tir_mm(self.rim_mm)

    def face_tir_mm(self) -> float:
        """The face's true TIR over a full turn, the crankshaft held to one end."""
        return tir_mm(self.face_mm)


@dataclass(frozen=True, slots=True)
class Mounted:
    """A damper on a mounting (crank flange, pilot) that is off the crank's axis itself.

    eccentricity_mm: how far the mounting carries the rim off the axis, towards the plunger at crank angle
    `eccentricity_deg`; tilt_mrad, tilt_deg: the same of the face. turned_deg: how far further forward the
    damper was refitted on its hub, in the direction in which the crank turns while its angles count up: what
    is on the damper comes under the plunger that much earlier.
    """

    damper: Damper
    eccentricity_mm: float = 0.0
    eccentricity_deg: float = 0.0
    tilt_mrad: float = 0.0
    tilt_deg: float = 0.0
    turned_deg: float = 0.0

    def rim_mm(self, angle_deg: float) -> float:
        """Radial distance less the rim's radius, to first order in the mounting's offset."""
        carried = self.eccentricity_mm * math.cos(math.radians(angle_deg - self.eccentricity_deg))
        return self.damper.rim_mm(angle_deg + self.turned_deg) + carried

    def face_mm(self, angle_deg: float) -> float:
        """Axial position of the face, the crank held to one end of its float."""
        carried = self.damper.face_radius_mm * math.tan(self.tilt_mrad / 1000.0)
        carried *= math.cos(math.radians(angle_deg - self.tilt_deg))
        return self.damper.face_mm(angle_deg + self.turned_deg) + carried


def tir_mm(surface: Callable[[float], float], points: int = TIR_POINTS) -> float:
    """Highest less lowest of a surface over a full turn, looked up at so many angles: at all of them near
    each crest and valley that may be the highest or lowest, as a look at COARSE_POINTS shows them."""

    def highest(sign: float) -> float:
        high = [sign * value for value in values]
        least = max(high) - rise
        beside = zip([high[-1], *high], high, [*high[1:], high[0]], strict=False)
        crests = (at for at, (a, b, c) in enumerate(beside) if least <= b >= max(a, c) and b > min(a, c))
        near = (point for at in crests for point in range((at - 1) * step + 1, (at + 1) * step))
        return max(*high, *(sign * surface(360.0 * point / points) for point in near))

    step = max(1, points // COARSE_POINTS)
    values = [surface(360.0 * point / points) for point in range(0, points, step)]
    rise = max(abs(one - before) for before, one in pairwise([*values, values[0]]))
    return highest(1.0) + highest(-1.0) if rise > 0 else 0.0
