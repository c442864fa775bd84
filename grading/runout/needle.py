"""What a needle was seen to show between the stops of a plain dial: it bounds what gaps may hide."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64, Sweep

# What a moving needle is read to, in display steps, standard: half a step either way, rectangular.
READ_STEPS = 1 / 12**0.5
# Draws that must be left for their weights to say anything.
LEFT_MIN = 50
# The needle was watched over the whole turn where no more of it is left than this; looked at by so much.
WHOLE_DEG, PLACE_DEG = 359.0, 0.25
# The exponential of more is none that a float holds (IEEE 754: above 709).
EXPONENT_MAX = 700.0
# Uncertainties below what was seen at which a true TIR is as likely as not, where seen is a lower bound.
BOUND_U = 1.5


def shown_mm(sweep: Sweep) -> float:
    """Highest less lowest that the dial showed, at its stops and, where somebody looked, between, in mm."""
    low, high = _extremes(sweep)
    return float(np.nanmax(np.append(high, sweep.value_mm)) - np.nanmin(np.append(low, sweep.value_mm)))


def _extremes(sweep: Sweep) -> tuple[F64, F64]:
    nobody = np.full(sweep.value_mm.size, np.nan)
    return (
        nobody if sweep.low_mm is None else sweep.low_mm,
        nobody if sweep.high_mm is None else sweep.high_mm,
    )


def _leaves_out(sweep: Sweep) -> NDArray[np.bool_]:
    """Of each stop, shape (n,), whether lowest and highest leave out, by more than a step, what the needle
    showed at the stop before: then they are not those of the way from there."""
    low, high = _extremes(sweep)
    before, step = sweep.value_mm[:-1], sweep.gauge.resolution_mm * (1 + 1e-6)
    return np.append([False], (low[1:] - before > step) | (before - high[1:] > step))


def _watched_deg(angle_deg: F64, looked: NDArray[np.bool_]) -> float:
    """How much of the turn was watched, in degrees: each look covers the way from the stop before, the first
    one has none before it, and what was watched twice counts once."""
    places = np.arange(0.0, 360.0, PLACE_DEG)
    seen = np.zeros(places.size, dtype=bool)
    for i in np.flatnonzero(looked[1:]):
        low, high = sorted(angle_deg[i : i + 2])
        seen |= np.mod(places - low, 360.0) <= high - low
    return 360.0 * float(np.mean(seen))


def needle_warnings(sweep: Sweep) -> list[str]:
    """What was written of the needle and cannot be the whole way from stop to stop."""
    out = np.flatnonzero(_leaves_out(sweep))
    if not out.size:
        return []
    at = float(sweep.angle_deg[out[0]]) % 360.0
    return [
        f"what the needle showed on the way to {at:.0f} degrees leaves out the stop before: low and high are "
        "the lowest and highest since that stop, both stops included; such a way counts as not watched"
    ]


def put_right_said(sweeps: Iterable[Sweep], limit_mm: float) -> list[str]:
    """What was typed first, where with it the dial would have shown more than the limit."""
    found = []
    for sweep in sweeps:
        seen = np.concatenate([sweep.value_mm, *_extremes(sweep)])
        for angle, was, now in sweep.put_right:
            if max(was - np.nanmin(seen), np.nanmax(seen) - was) > limit_mm:
                found.append(
                    f"at {angle:g} degrees: typed {was:.3f} mm at first, and put right to {now:.3f} mm"
                )
    return found


def with_needle(
    tir_mm: F64, hidden: NDArray[np.bool_], sweep: Sweep, tremble_mm: float, *, seed: int
) -> tuple[F64, NDArray[np.bool_]]:
    """Equally likely true TIRs, shape (m,), after the needle's extremes between stops are known too, and
    which of them are made by what no reading speaks for all the same, shape (m,).

    Where somebody looked over the whole turn, the highest and lowest seen are the surface's own, each read
    to half a step; where only over part of it, the true TIR is no less than what was seen. tremble_mm: what
    a needle that trembles shows beyond the surface at each end.
    """
    low, high = _extremes(sweep)
    if not (np.isfinite(low) | np.isfinite(high)).any():
        return tir_mm, hidden
    # The way from the stop before is known only where both ends were noted; one end alone was seen as well.
    looked = np.isfinite(low) & np.isfinite(high) & ~_leaves_out(sweep)
    seen = shown_mm(sweep)
    seen -= 2 * tremble_mm
    u = 2**0.5 * float(np.hypot(READ_STEPS * sweep.gauge.resolution_mm, tremble_mm / 2))
    rng = np.random.default_rng([seed, 7])
    whole = _watched_deg(sweep.angle_deg, looked) >= WHOLE_DEG
    off = (tir_mm - seen) / u + (0.0 if whole else BOUND_U)
    weight = np.exp(-0.5 * off**2) if whole else 1.0 / (1.0 + np.exp(np.minimum(-1.7 * off, EXPONENT_MAX)))
    if float(weight.sum()) ** 2 / max(float((weight**2).sum()), 1e-300) < LEFT_MIN:
        if whole:
            return np.abs(rng.normal(seen, u, tir_mm.size)), np.zeros(tir_mm.size, dtype=bool)
        return np.maximum(tir_mm, seen), hidden
    edges = np.cumsum(weight / weight.sum())
    chosen = np.searchsorted(edges, (np.arange(tir_mm.size) + rng.random()) / tir_mm.size)
    picked = rng.permutation(np.minimum(chosen, tir_mm.size - 1))
    return tir_mm[picked], hidden[picked]
