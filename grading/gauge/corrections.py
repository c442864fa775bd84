"""What geometry and temperature make of a reading: small systematic effects in closed form."""

from __future__ import annotations

import math

# Linear thermal expansion of steel, per kelvin (JCGM 100:2008, H.1; EA-4/02, S4).
STEEL_PER_K = 11.5e-6
# Reference temperature of lengths, degrees Celsius (ISO 1:2022).
REFERENCE_C = 20.0


def lever_true_mm(reading_mm: float, angle_deg: float) -> float:
    """True movement under a lever indicator whose stylus stands at an angle to the surface, mm.

    The reading times cos(angle) (handbook rule); angle in degrees, 0 is right, below 90.
    """
    return reading_mm * math.cos(math.radians(_checked(angle_deg)))


def plunger_excess(angle_deg: float) -> float:
    """How much a plunger indicator reads too much when tilted by an angle, as a share of the movement.

    1 / cos(angle) - 1: a tilted plunger runs further than the surface moves.
    """
    return 1.0 / math.cos(math.radians(_checked(angle_deg))) - 1.0


def thermal_growth_mm(length_mm: float, temperature_c: float, per_k: float = STEEL_PER_K) -> float:
    """How much longer a part is than at 20 degrees Celsius (ISO 1:2022), mm."""
    return length_mm * per_k * (temperature_c - REFERENCE_C)


def _checked(angle_deg: float) -> float:
    if not abs(angle_deg) < 90.0:
        raise ValueError(f"an angle below 90 degrees is needed, found {angle_deg}")
    return angle_deg
