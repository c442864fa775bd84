"""One engine on its stand: damper, crank, an indicator with its plunger on a surface, an encoder."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from config.profile import GaugeProfile
from simulators.barring import Crank
from simulators.damper import Damper, Local
from simulators.gauge import TURN_UDEG, Quantity, SimGauge, encoder_udeg, face_nm, rim_nm
from simulators.plunger import PlungerFault

# The front of an invented haul truck's engine: a damper that is worn but may stay. Its true TIRs
# follow from the figures (`rim_tir_mm`, `face_tir_mm`), which is what a measurement is held against.
HAUL_TRUCK_DAMPER = Damper(
    rim_radius_mm=160.0,
    eccentricity_mm=0.085,
    eccentricity_deg=41.0,
    ovality_mm=0.012,
    ovality_deg=110.0,
    rim_locals=(Local(at_deg=285.0, width_deg=18.0, height_mm=-0.025),),
    face_radius_mm=150.0,
    tilt_mrad=0.42,
    tilt_deg=215.0,
    face_locals=(Local(at_deg=150.0, width_deg=40.0, height_mm=0.03),),
    end_float_mm=0.15,
)


@dataclass(slots=True)
class Rig:
    """What the gauges of one bay look at; `surface` is where the plunger stands."""

    damper: Damper
    crank: Crank
    indicator: SimGauge
    encoder: SimGauge
    surface: Literal["rim", "face"] = "rim"
    _felt: Quantity = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._felt = self._sound_nm

    def suffer(self, *faults: PlungerFault) -> None:
        """Lay faults over what the plunger feels, each over those before it, instead of all that were laid
        before; without any it is sound again. What they count in degrees begins at the next reading.
        """
        self._felt = self._sound_nm
        for fault in faults:
            self._felt = fault.over(self._felt, self.crank)

    def felt_nm(self, time_ns: int) -> float:
        """What the plunger feels at a time, nm."""
        return self._felt(time_ns)

    def _sound_nm(self, time_ns: int) -> float:
        feel = rim_nm if self.surface == "rim" else face_nm
        return feel(self.damper, self.crank)(time_ns)

    def indicator_stream(self, *, start_ns: int, until_ns: int | None = None) -> Iterator[tuple[int, bytes]]:
        """The indicator's line."""
        return self.indicator.stream(self.felt_nm, start_ns=start_ns, until_ns=until_ns)

    def encoder_stream(self, *, start_ns: int, until_ns: int | None = None) -> Iterator[tuple[int, bytes]]:
        """The encoder's line."""
        return self.encoder.stream(encoder_udeg(self.crank), start_ns=start_ns, until_ns=until_ns)


def haul_truck(indicator: GaugeProfile, encoder: GaugeProfile, seed: int) -> Rig:
    """The invented truck with an indicator of 0.001 mm (noise 0.8 µm, a little drift) and an encoder
    of 0.1 degrees, the crank standing just before its first mark. Profiles: free-running, of a length
    and of degrees. Everything follows from `seed`.
    """
    return Rig(
        damper=HAUL_TRUCK_DAMPER,
        crank=Crank(-2.0),
        indicator=SimGauge(
            indicator,
            random.Random(f"indicator {seed}"),
            resolution=1_000,
            noise=800.0,
            drift_per_s=20.0,
        ),
        encoder=SimGauge(encoder, random.Random(f"encoder {seed}"), resolution=100_000, wrap=TURN_UDEG),
    )
