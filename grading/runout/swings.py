"""What of a fit's leftovers swings from reading to reading: waves of the surface too short for the fit.

A rim with teeth or bolts has waves of which a turn has read but three or four places each. By place, and by
how they run on, their leftovers look like noise, and a fit takes them for that: the surface comes out lower
than it is. But noise is of all frequencies alike, and such waves are of one; so the share that each band of
the leftovers' periodogram has (textbook spectral analysis) is held against its width.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64
from grading.runout.leftover import beyond_display

# Readings below which nothing is said; waves of which so many readings at the least, and at most, are one:
# longer ones are followed by a rough surface.
READINGS_MIN, SHORTEST, LONGEST = 48, 2.3, 6.0
# No surface has waves of a higher order, where the crank may have been barred half as fast again as is told.
ORDERS_MOST = 96.0
# Bands: so many from the longest to the shortest, so wide to either side (of their frequency): one line of an
# encoder's, and one that an uneven pace between marks spreads.
CENTRES, WIDTHS = 16, (0.12, 0.35)
# So many bands may be taken out; of fewer frequencies nothing is said.
BANDS_MAX, FREQUENCIES_MIN = 2, 12
# Between readings a wave is followed at so many places.
FINER = 4
# What of their share in the run-out is not known by leftovers (standard).
UNKNOWN_SHARE = 0.15


@dataclass(frozen=True, slots=True)
class Swing:
    """at_mm: shape (n,), the waves at the readings; finer_mm: shape (FINER n,), between them too; noise_mm:
    of what is none, in the same bands (standard deviation)."""

    at_mm: F64
    finer_mm: F64
    noise_mm: float


def swing_of(rest_mm: F64, turns: float, step_mm: float, noise_mm: float, above: float) -> Swing | None:
    """The waves in a sweep's leftovers, shape (n,), in order of time; None where they are as noise is.
    step_mm, noise_mm: of the display, and what the fit took for noise. above: no noise from so many standard
    deviations on."""
    n = rest_mm.size
    rest = rest_mm - np.mean(rest_mm) if n else rest_mm
    asked = beyond_display(rest, step_mm, noise_mm)
    shortest = min(1.0 / SHORTEST, ORDERS_MOST * turns / max(n, 1))
    taken = _bands(asked, shortest, above) if n >= READINGS_MIN else np.zeros(0, dtype=bool)
    if not taken.any():
        return None
    spectrum = np.fft.rfft(rest)
    others = np.abs(spectrum[_fast(n) & ~taken]) ** 2
    quiet = float(np.mean(others)) if others.size else 0.0
    heard = float(np.mean(np.abs(spectrum[taken]) ** 2))
    kept = np.where(taken, spectrum * max(1.0 - quiet / heard, 0.0), 0.0)
    finer = np.zeros(FINER * n // 2 + 1, dtype=complex)
    finer[: kept.size] = kept
    noise = float(np.sqrt(2.0 * quiet * taken.sum())) / n
    return Swing(np.fft.irfft(kept, n), np.fft.irfft(finer, FINER * n) * FINER, noise)


def _fast(n: int) -> NDArray[np.bool_]:
    """Frequencies of waves that are short."""
    return np.asarray(np.fft.rfftfreq(n) > 1.0 / LONGEST)


def _bands(rest: F64, highest: float, above: float) -> NDArray[np.bool_]:
    """Which frequencies stand out together; bands are about one that is no higher than this."""
    frequency: F64 = np.fft.rfftfreq(rest.size).astype(np.float64)
    fast = _fast(rest.size)
    power, taken = np.abs(np.fft.rfft(rest)) ** 2, np.zeros(frequency.size, dtype=bool)
    for _ in range(BANDS_MAX):
        band = _strongest(power, frequency, fast & ~taken, highest, above)
        if band is None:
            break
        taken |= band
    return taken


def _strongest(
    power: F64, frequency: F64, asked: NDArray[np.bool_], highest: float, above: float
) -> NDArray[np.bool_] | None:
    """The band whose share of the power is the furthest above its share of the frequencies, in standard
    deviations of what noise would give (its ordinates are exponential, each by itself)."""
    total, count = float(power[asked].sum()), int(asked.sum())
    if total <= 0 or count < FREQUENCIES_MIN or highest < 1.0 / LONGEST:
        return None
    best, found = above, None
    for centre in np.geomspace(1.0 / LONGEST, highest, CENTRES):
        for width in WIDTHS:
            band = asked & (np.abs(frequency - centre) <= width * centre)
            m = int(band.sum())
            if not 3 <= m < count:
                continue
            share = m / count
            beyond = (float(power[band].sum()) / total - share) / (share * (1 - share) / count) ** 0.5
            if beyond > best:
                best, found = beyond, band
    return found
