"""A face under two indicators while the crankshaft slides along its axis: as asked for, and set up wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep
from tests.grading.adverse.day import Day, Take
from tests.grading.adverse.regime import Regime
from tests.grading.synthetic import Form, Instrument


def _slides(day: Day, take: Take) -> F64:
    """The crankshaft slides by 0.02 to 0.15 mm, and in two days of three back after 60 to 200 degrees."""
    by, begin = day.either() * day.log_uniform(0.02, 0.15), day.rng.uniform(10, 150)
    until = begin + day.rng.uniform(60, 200) if day.rng.random() < 2 / 3 else np.inf
    barred = np.maximum.accumulate(take.path)
    return np.asarray(by * ((barred >= begin) & (barred < until)))


@dataclass
class _Seen:
    """A form as it is seen from elsewhere on it, on another radius."""

    form: Form
    at_deg: float
    scale: float
    lowest: float = field(init=False)
    tir: float = field(init=False)

    def __post_init__(self) -> None:
        self.lowest, self.tir = self.scale * self.form.lowest, self.scale * self.form.tir

    def __call__(self, angle_deg: F64) -> F64:
        return np.asarray(self.scale * self.form(angle_deg + self.at_deg))


def _both(day: Day, *, off_deg: float, scale: float, sense: float = 1.0) -> Sequence[Sweep]:
    """Both read one face and one float. off_deg: how far the second is from opposite; scale: its radius, of
    the first one's."""
    day.surface, day.source = "face", "encoder"
    day.per_turn = max(day.per_turn, 150)
    form = day.form()
    take = day.take(form)
    second = Instrument.drawn(day.rng, day.gauge.mpe_mm)
    slid = _slides(day, take)
    seen = second.sees(_Seen(form, 180.0 + off_deg, scale), take.path)
    noise = day.rng.normal(0, day.noise_mm, take.size)
    other = replace(take, value=sense * (seen + slid), noise=noise)
    take.value = take.value + slid
    gauge = GaugeFacts("second", day.gauge.resolution_mm, day.gauge.mpe_mm)
    return [replace(day.read(take), opposite=replace(day.read(other), gauge=gauge))]


def opposite(day: Day) -> Sequence[Sweep]:
    """The second stands opposite to within 5 degrees, on the same radius to within 2 in 100."""
    return _both(day, off_deg=day.rng.uniform(-5, 5), scale=day.rng.uniform(0.98, 1.02))


def misplaced(day: Day) -> Sequence[Sweep]:
    """It stands 20 to 180 degrees from opposite, or on 0.3 to 1.6 of the radius, or counts the wrong way."""
    wrong = day.number % 3
    return _both(
        day,
        off_deg=day.either() * day.rng.uniform(20, 180) if wrong == 0 else day.rng.uniform(-5, 5),
        scale=day.log_uniform(0.3, 1.6) if wrong == 1 else 1.0,
        sense=-1.0 if wrong == 2 else 1.0,
    )


REGIMES = (
    Regime("opposite", "end float, two indicators", opposite),
    Regime("opposite", "end float, second misplaced", misplaced),
)
