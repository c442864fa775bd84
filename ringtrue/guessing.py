"""Which profiles explain what a gauge sends of itself, and what it reads now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from config.profile import GaugeProfile, PortSettings
from drivers.assembly import Assembler
from drivers.capture import Piece
from drivers.reading import Reading

# Fewer readings than these may be chance.
LEAST_READINGS = 2


@dataclass(frozen=True, slots=True)
class Fit:
    """A profile that reads all that came. name: as a configuration has it. last: what it read last."""

    name: str
    profile: GaugeProfile
    last: Reading


def fits(
    pieces: Sequence[Piece], port: PortSettings, profiles: Iterable[tuple[str, GaugeProfile]]
) -> list[Fit]:
    """Those by which every frame that came, on a port set so, is a reading; such as are meant for a gauge
    that sends by itself first."""
    found: list[Fit] = []
    for name, profile in profiles:
        if profile.port != port:
            continue
        assembler = Assembler(name, profile)
        readings = [one for piece in pieces for one in assembler.feed(piece.data, piece.time_ns)]
        counted = assembler.statistics()
        # Before the first whole frame comes the rest of one: never as much as two of them.
        is_whole = counted.bytes_discarded * counted.frames <= 2 * counted.bytes_in
        # Of one at whose key somebody pressed once there is no more.
        least = LEAST_READINGS - profile.manner.by_hand
        if len(readings) >= least and not counted.rejected and is_whole:
            found.append(Fit(name, profile, readings[-1]))
    return sorted(found, key=lambda fit: fit.profile.manner.own_pace_s is None)
