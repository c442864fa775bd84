"""How much single readings scatter, whatever the surface does beneath them."""

from __future__ import annotations

import numpy as np

from grading.evidence import Sweep

# No gauge is quieter, in mm.
NOISE_LEAST_MM = 1e-4


def scatter_mm(sweep: Sweep) -> float:
    """Standard deviation of a single reading by the median size of second differences, the display's
    step / sqrt(12) at the least, in mm.

    0.6745 standard deviations is the median size of a normal variable; a second difference has root 6
    times the scatter. Slow forms, steps and single outliers hardly touch it; in a sparse sweep the
    surface itself bends from reading to reading, and the figure is too large.
    """
    value = sweep.value_mm
    bends = float(np.median(np.abs(np.diff(value, 2)))) / (0.6745 * 6**0.5) if value.size > 2 else 0.0
    return max(bends, sweep.gauge.resolution_mm / 12**0.5, NOISE_LEAST_MM)
