"""Whether a profile gives the readings that its own proof says."""

from __future__ import annotations

from config.profile import GaugeProfile
from drivers.errors import FrameError
from drivers.framings import framer
from drivers.values import codec


def failures(profile: GaugeProfile) -> list[str]:
    """One plain line for each proof that does not hold; none where the profile is sound."""
    found: list[str] = []
    for number, proof in enumerate(profile.proof, 1):
        cutter, reader = framer(profile.framing), codec(profile.value, profile.id)
        values: list[int] = []
        rejected = 0
        for data in cutter.split(proof.wire, 0):
            try:
                values.append(reader.value(data))
            except FrameError:
                rejected += 1
        thrown_away = rejected + cutter.lost
        if proof.rejected and (values or not thrown_away):
            found.append(f"{profile.id}: proof {number}: expected a rejected frame, got values {values}")
        elif not proof.rejected and (tuple(values) != proof.values or thrown_away):
            found.append(
                f"{profile.id}: proof {number}: expected values {list(proof.values)}, "
                f"got {values} and {thrown_away} rejected frames"
            )
    return found
