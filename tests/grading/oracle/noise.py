"""Noise that runs on from reading to reading, asked of one who is told its size and its memory."""

from __future__ import annotations

import numpy as np

from tests.grading.oracle.sound import Sound, sound
from tests.grading.oracle.told import Told
from tests.grading.oracle.world import know

# Parts of such noise that are smaller than this share of the largest count as white; so many families of
# surfaces are weighed anew, the likeliest.
LEAST, FAMILIES = 0.02, 4


def running(one: Told) -> Sound:
    """All that the readings leave possible beside such noise."""
    sd, keep = one.day.runs_on
    number = np.arange(one.sweep.value_mm.size)
    variance, parts = np.linalg.eigh(sd**2 * keep ** np.abs(number[:, None] - number))
    large = variance > LEAST * variance[-1]
    white = float(np.hypot(one.day.noise_mm, np.sqrt(max(variance[~large].sum(), 0.0) / number.size)))
    plain = sound(one)
    likely = np.argsort([-known.log_evidence for known in plain.known])[:FAMILIES]
    worlds = tuple(plain.worlds[i].beside(parts[:, large], np.sqrt(variance[large])) for i in likely)
    known = tuple(know(world, one.sweep.value_mm, one.step_mm, white) for world in worlds)
    return Sound(worlds, known)
