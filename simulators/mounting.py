"""How a damper sits on its crankshaft: what lies between the faces, and play where bolts are loose.

A gauge cannot tell it from the damper's own geometry; cleaning and tightening can.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace

from simulators.damper import Damper


@dataclass(frozen=True, slots=True)
class Mounting:
    """dirt_mm: what lies between the mounting faces, at one edge of a flange of diameter `flange_mm`, at
    crank angle `dirt_deg`. offset_mm: how far before the flange the rim's middle lies. play_mm: how far the
    damper hangs off the axis while its bolts are loose, towards `play_deg`.
    """

    dirt_mm: float = 0.0
    dirt_deg: float = 0.0
    flange_mm: float = 180.0
    offset_mm: float = 30.0
    play_mm: float = 0.0
    play_deg: float = 0.0

    @property
    def is_loose(self) -> bool:
        """Whether its bolts are."""
        return self.play_mm > 0.0

    def cleaned(self) -> Mounting:
        """Taken off, faces cleaned, refitted and tightened."""
        return replace(self, dirt_mm=0.0, play_mm=0.0)

    def tightened(self) -> Mounting:
        """Bolts tightened by the manual; dirt stays where it is."""
        return replace(self, play_mm=0.0)

    def carries(self, damper: Damper) -> Damper:
        """The damper as it runs on this mounting: one damper again, with its own end float and features.

        Plane geometry: a grain of t at one edge of a flange of diameter d tilts what is bolted to it by t/d,
        which moves a rim that lies h before it by h t/d. Offsets add as vectors, and so do small tilts.
        """
        tilt_mrad = self.dirt_mm / self.flange_mm * 1000.0
        offset = (
            _arrow(damper.eccentricity_mm, damper.eccentricity_deg)
            + _arrow(self.offset_mm * tilt_mrad / 1000.0, self.dirt_deg)
            + _arrow(self.play_mm, self.play_deg)
        )
        tilt = _arrow(damper.tilt_mrad, damper.tilt_deg) + _arrow(tilt_mrad, self.dirt_deg)
        return replace(
            damper,
            eccentricity_mm=abs(offset),
            eccentricity_deg=math.degrees(cmath.phase(offset)) % 360.0,
            tilt_mrad=abs(tilt),
            tilt_deg=math.degrees(cmath.phase(tilt)) % 360.0,
        )


def _arrow(length: float, angle_deg: float) -> complex:
    return cmath.rect(length, math.radians(angle_deg))
