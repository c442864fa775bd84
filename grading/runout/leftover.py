"""What a fit leaves over: whether it is noise, or something that the fit does not know.

Four questions, each answered in standard deviations of what pure noise would give: do the leftovers
agree by place around the turn, do they run on from reading to reading, is any place far off, and is
there more of them than a gauge scatters? (Textbook residual analysis; lag sums as in the test of
Ljung and Box 1978, from memory.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from grading.signs.scatter import NOISE_LEAST_MM

# Places around the turn at most, and readings that each should have.
PLACES_MAX, READINGS_EACH = 120, 4
# Lags that are added up.
LAGS = (1, 2, 3, 5, 8)


@dataclass(frozen=True, slots=True)
class Leftover:
    """by_place, runs_on, farthest: in standard deviations of what noise would give; scatter_mm: root mean
    square of the leftovers."""

    by_place: float
    runs_on: float
    farthest: float
    scatter_mm: float

    def is_structured(self, above: float, back: float) -> bool:
        """Whether any of the three is above this many standard deviations, or the leftovers swing from
        reading to reading by so many times as many (a fit takes some of their running on away)."""
        return max(self.by_place, self.runs_on, self.farthest) > above or self.runs_on < -back * above


def correlation(rest: F64, lag: int) -> float:
    """Autocorrelation (the usual, biased one) of values about their mean, shape (n,), at lags 1 … n - 1."""
    return float(rest[lag:] @ rest[:-lag]) / float(rest @ rest)


def beyond_display(rest_mm: F64, step_mm: float, noise_mm: float) -> F64:
    """Leftovers less what the display may have rounded off of each, where it hides the noise (noise_mm below
    half a step), shape (n,)."""
    if noise_mm >= 0.5 * step_mm:
        return rest_mm
    return np.asarray(np.sign(rest_mm) * np.maximum(np.abs(rest_mm) - 0.5 * step_mm, 0.0))


def examine(angle_deg: F64, rest_mm: F64, step_mm: float, noise_mm: float, fewest: int) -> Leftover:
    """The leftovers of a fit, shape (n,), in order of time. step_mm: of the display; within half a step
    nothing is left over where the display hides the noise (noise_mm below half a step). fewest: fewer
    readings than this say nothing."""
    n = rest_mm.size
    rest = rest_mm - np.mean(rest_mm)
    rms = float(np.sqrt(np.mean(rest**2))) if n else 0.0
    rest = beyond_display(rest, step_mm, noise_mm)
    if n < fewest or rms < 2 * NOISE_LEAST_MM or not np.any(rest):
        return Leftover(0.0, 0.0, 0.0, rms)
    scatter = float(np.sqrt(np.mean(rest**2)))
    # Single readings' own scatter, which forms of the surface do not enlarge.
    single = float(np.sqrt(np.mean(np.diff(rest) ** 2) / 2))
    # What the display hides of its noise is no small thing to be exceeded by far.
    noise = max(min(scatter, single), 0.3 * noise_mm, 0.05 * step_mm, NOISE_LEAST_MM)
    places = int(np.clip(n // READINGS_EACH, 6, PLACES_MAX))
    at = np.minimum((np.mod(angle_deg, 360.0) / 360.0 * places).astype(np.int64), places - 1)
    count = np.bincount(at, minlength=places)
    total = np.bincount(at, rest, minlength=places)
    filled = count > 1
    z = total[filled] / (noise * np.sqrt(count[filled]))
    m = int(filled.sum())
    if m < 6:
        return Leftover(0.0, 0.0, 0.0, rms)
    by_place = float((z @ z - m) / (2 * m) ** 0.5)
    far = float(np.max(np.abs(z)))
    sums = [correlation(rest, lag) * (n - lag) ** 0.5 for lag in LAGS]
    runs_on = float(np.sum(sums)) / len(sums) ** 0.5
    return Leftover(by_place, runs_on, far - 1.0, rms)
