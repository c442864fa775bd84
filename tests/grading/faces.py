"""A face under two indicators at once, as its geometry and the crank's float have it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep

ONE, OTHER = GaugeFacts("indicator-1", 0.001, 0.004), GaugeFacts("indicator-2", 0.001, 0.004)
Form = Callable[[F64], F64]


def plane(tir_mm: float, high_deg: float = 41.0) -> Form:
    """A plane that is tilted (plane geometry: its reading is a cosine)."""
    return lambda angle: np.asarray(tir_mm / 2 * np.cos(np.deg2rad(angle - high_deg)))


@dataclass(frozen=True)
class Two:
    """float_mm: how far the crank slid, by (crank angle from which, by how much). apart_deg: from the first
    indicator to the second. scale: what the second reads of the face. sense: -1, it counts the wrong way."""

    face: Form
    floats: Sequence[tuple[float, float]] = ()
    moving: Form = lambda angle: np.zeros_like(angle)
    apart_deg: float = 180.0
    scale: float = 1.0
    sense: float = 1.0
    readings: int = 420
    covered_deg: float = 366.0
    noise_mm: float = 0.0008
    seed: int = 1
    step_mm: float = 0.001
    knocks: Sequence[tuple[int, float, float]] = ()

    def sweep(self) -> Sweep:
        """The first indicator's sweep, with the second's beside it: read in turn, at the same pace."""
        one = self._read(0, 0.0, 0.0, 1.0, ONE)
        second = self._read(1, self.apart_deg, 0.021, self.scale, OTHER)
        return replace(one, opposite=second)

    def _read(self, which: int, at_deg: float, late_s: float, scale: float, gauge: GaugeFacts) -> Sweep:
        rng = np.random.default_rng([self.seed, which])
        times = np.arange(self.readings) / 20.0
        pace = self.covered_deg / times[-1]
        crank = pace * (times + late_s)
        value = scale * self.face(crank + at_deg) + self.moving(crank)
        value = value + sum((h * (crank >= a) for a, h in self.floats), np.zeros_like(crank))
        value = value + sum((h * (crank >= a) for n, a, h in self.knocks if n == which), np.zeros_like(crank))
        value = (self.sense if which else 1.0) * value + rng.normal(0.0, self.noise_mm, crank.size)
        shown = np.round(value / self.step_mm) * self.step_mm
        gauge = replace(gauge, resolution_mm=self.step_mm)
        u = np.full(crank.size, 0.05)
        return Sweep("face", crank, shown, u, times, gauge, 150.0, clock_s=100.0 + late_s)


def edges(*edges_mm: tuple[float, float]) -> Form:
    """A face that steps at these places by so much; they add up to none."""
    assert abs(sum(h for _, h in edges_mm)) < 1e-12

    def form(angle: F64) -> F64:
        at = np.mod(angle, 360.0)
        return np.asarray(sum(h * (at >= place) for place, h in edges_mm))

    return form
