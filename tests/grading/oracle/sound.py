"""Nothing is amiss: all that the readings then leave possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.oracle.judged import mixed
from tests.grading.oracle.told import Told
from tests.grading.oracle.world import Known, World, families, know, surface_world, tirs_mm


@dataclass(frozen=True, slots=True)
class Sound:
    """The worlds in which the sweep is sound, one per family of surfaces, and what is known in each."""

    worlds: tuple[World, ...]
    known: tuple[Known, ...]

    @property
    def log_evidence(self) -> float:
        """Of all of them, each as likely as any other."""
        return mean_of([known.log_evidence for known in self.known])

    def tirs_mm(self, rng: np.random.Generator, count: int) -> F64:
        """True TIRs, were it so."""
        parts = [
            (known.log_evidence, tirs_mm(world, known, rng, count // 4))
            for world, known in zip(self.worlds, self.known, strict=True)
            if known.log_evidence > self.log_evidence - 5
        ]
        return mixed(parts, rng, count)


def sound(one: Told, angle_deg: F64 | None = None) -> Sound:
    """The worlds, and what is known in them. angle_deg: of the readings, shape (n,); None: the true ones."""
    at = one.path_deg if angle_deg is None else angle_deg
    scale = float(np.ptp(one.sweep.value_mm)) / LIMIT_MM
    worlds = tuple(surface_world(one, at, scale * sizes) for sizes in families())
    known = tuple(know(world, one.sweep.value_mm, one.step_mm, one.day.noise_mm) for world in worlds)
    return Sound(worlds, known)


def mean_of(logs: Sequence[float]) -> float:
    """Logarithm of the mean of what has these."""
    return float(np.logaddexp.reduce(logs)) - float(np.log(len(logs)))
