"""How well smooth surfaces explain readings, quickly: a few spectra, readings gathered in wide bins.

Another way to read the same readings (half a turn, a unit that was switched) is held against the plain one by
their evidence; only where that does not say no is a whole surface fitted.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from grading.evidence import F64, Sweep
from grading.surface.harmonics import columns
from grading.surface.modes import Normal
from grading.surface.observations import Wander, progress
from grading.surface.spectra import Noise, Spectra, fit

# Smooth surfaces end at these orders and fall off alike; their readings are gathered in bins of this width.
ENDS, SLOPE, BIN_DEG = (2, 4, 8, 14), 1.3, 1.5


class Binned:
    """The readings of a sweep by bins of angle, in the order in which they came. value_mm: shape (n,), what
    they are taken to show; times: shape (n,), so many times of surface and level each shows, and nothing is
    gathered where it changes; dent: middle and width in degrees of what is left out."""

    def __init__(
        self,
        sweep: Sweep,
        value_mm: F64,
        *,
        times: F64 | None = None,
        dent: tuple[float, float] | None = None,
    ) -> None:
        bins = np.floor(sweep.angle_deg / BIN_DEG)
        changes = np.diff(bins) != 0
        if times is not None:
            changes |= np.diff(times) != 0
        label = np.concatenate([[0], np.cumsum(changes)])
        weight = np.bincount(label).astype(float)

        def mean(x: F64) -> F64:
            return np.asarray(np.bincount(label, x) / weight)

        self._angle, self._along, self._value = mean(sweep.angle_deg), mean(progress(sweep)), mean(value_mm)
        self._times = None if times is None else mean(times)
        self._within = float(np.sum((value_mm - self._value[label]) ** 2))
        if dent is not None:
            off = np.abs(np.mod(self._angle - dent[0] + 180.0, 360.0) - 180.0)
            weight[off <= 0.5 * dent[1]] = 0.0
        self._weight = weight

    def evidence(self, level: Wander, search: Noise, share: float = 1.0) -> float:
        """Log evidence for smooth surfaces, up to a constant of the readings. share: angles are so much of
        what is told."""
        family = _family()
        x = np.concatenate([level.columns(self._along), columns(share * self._angle, family.orders)], axis=1)
        if self._times is not None:
            x *= self._times[:, None]
        weighted = x * self._weight[:, None]
        squares = float(self._weight @ self._value**2) + self._within
        normal = Normal(x.T @ weighted, self._value @ weighted, squares, float(self._weight.sum()))
        fits = fit(normal, family, level.prior_mm(), search)
        return float(np.logaddexp.reduce(fits.evidence))


@cache
def _family() -> Spectra:
    """One spectrum for each end."""
    k = np.arange(1, ENDS[-1] + 1, dtype=float)
    shape = np.repeat(np.array([np.where(k <= end, k**-SLOPE, 0.0) for end in ENDS]), 2, axis=1)
    shape[:, :2] = 0.0
    return Spectra(shape)
