"""Days of the study of bad days whose truth is kept beside what the grader gets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64, Sweep
from tests.grading.adverse.catalogue import BY_NAME
from tests.grading.adverse.day import NEAR_MM, Day, Take
from tests.grading.adverse.study import SEED
from tests.grading.synthetic import Form, Instrument, SurfaceShape

# More readings a turn than this only take longer, unless a regime asks for them.
READINGS_MAX = 800


class Watched(Instrument):
    """An instrument that keeps what it has seen last."""

    def sees(self, surface: Form, path: F64) -> F64:
        """As ever."""
        object.__setattr__(self, "last", (surface, path))
        return super().sees(surface, path)

    last: tuple[Form, F64]


class ToldDay(Day):
    """The same day without bent error curve, tilt and flex; its surface, its true angles and what was done
    to the readings are kept."""

    def __init__(self, seed: int, name: str, number: int, truths_mm: tuple[float, ...] = NEAR_MM) -> None:
        super().__init__(seed, name, number, truths_mm)
        self.per_turn = min(self.per_turn, READINGS_MAX)

    def use_gauge(self, resolution_mm: float, mpe_mm: float) -> None:
        """Another gauge, whose error is one of its span alone: it stretches a surface and bends none."""
        super().use_gauge(resolution_mm, mpe_mm)
        self.instrument = self.watched = Watched(self.instrument.span_mm, 1.0, 1.0)

    def form(self, *, feature: bool | None = None, tir_mm: float | None = None) -> SurfaceShape:
        """As ever, and kept."""
        self.shape = super().form(feature=feature, tir_mm=tir_mm)
        return self.shape

    def take(self, form: Form, path: F64 | None = None) -> Take:
        """As ever, and what was there before anything went wrong is kept."""
        take = super().take(form, path)
        self.sound_mm = take.value.copy()
        return take

    def read(self, take: Take) -> Sweep:
        """As ever, and what went wrong is kept: the level moved, in mm, shape (n,)."""
        self.moved_mm = take.value - self.sound_mm if take.size == self.sound_mm.size else np.zeros(take.size)
        return super().read(take)


@dataclass(frozen=True, slots=True)
class Told:
    """One sweep and what the oracle is told of its day."""

    day: ToldDay
    sweep: Sweep

    @property
    def path_deg(self) -> F64:
        """True angles of the readings, shape (n,)."""
        return self.day.watched.last[1][: self.sweep.value_mm.size]

    @property
    def form(self) -> Form:
        """The surface."""
        return self.day.watched.last[0]

    @property
    def step_mm(self) -> float:
        """Of the display."""
        return self.sweep.gauge.resolution_mm


def told(name: str, number: int, seed: int = SEED) -> Told:
    """The sweep of this number of this regime."""
    regime = BY_NAME[name]
    day = ToldDay(seed, name, number, regime.truths_mm)
    (sweep,) = regime.build(day)
    return Told(day, sweep)
