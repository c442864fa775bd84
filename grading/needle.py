"""What a needle was seen to show between the stops of a plain dial: it bounds what gaps may hide."""

from __future__ import annotations

import numpy as np

from grading.evidence import F64, Sweep

# What a moving needle is read to, in display steps, standard: half a step either way, rectangular.
READ_STEPS = 1 / 12**0.5
# Draws that must be left for their weights to say anything.
LEFT_MIN = 50


def with_needle(tir_mm: F64, sweep: Sweep, tremble_mm: float, *, seed: int) -> F64:
    """Equally likely true TIRs, shape (m,), after the needle's extremes between stops are known too.

    Where somebody looked over the whole turn, the highest and lowest seen are the surface's own, each read
    to half a step; where only over part of it, the true TIR is no less than what was seen. tremble_mm: what
    a needle that trembles shows beyond the surface at each end.
    """
    if sweep.low_mm is None or sweep.high_mm is None:
        return tir_mm
    looked = np.isfinite(sweep.low_mm) & np.isfinite(sweep.high_mm)
    if not looked.any():
        return tir_mm
    seen = float(np.nanmax(np.append(sweep.high_mm, sweep.value_mm))) - float(
        np.nanmin(np.append(sweep.low_mm, sweep.value_mm))
    )
    seen -= 2 * tremble_mm
    u = 2**0.5 * float(np.hypot(READ_STEPS * sweep.gauge.resolution_mm, tremble_mm / 2))
    rng = np.random.default_rng([seed, 7])
    # Each look covers the way from the stop before; the first one has none before it.
    whole = float(np.sum(np.abs(np.diff(sweep.angle_deg))[looked[1:]])) >= 359.0
    off = (tir_mm - seen) / u
    weight = np.exp(-0.5 * off**2) if whole else 1.0 / (1.0 + np.exp(-1.7 * off))
    if float(weight.sum()) ** 2 / max(float((weight**2).sum()), 1e-300) < LEFT_MIN:
        return np.asarray(np.abs(rng.normal(seen, u, tir_mm.size)) if whole else np.maximum(tir_mm, seen))
    edges = np.cumsum(weight / weight.sum())
    chosen = np.searchsorted(edges, (np.arange(tir_mm.size) + rng.random()) / tir_mm.size)
    picked = tir_mm[np.minimum(chosen, tir_mm.size - 1)]
    return np.asarray(rng.permutation(picked))
