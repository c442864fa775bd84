"""Sweeps gathered for a surface of no known form."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grading.evidence import F64, Sweep
from grading.runout.rough import GROUPS_MAX, Traced
from grading.surface.observations import Wander, progress

# Readings closer than this go into one group, in degrees.
CLOSE_DEG = 0.7
# Readings from one sweep to the next, more than any has.
APART = 1e6


def trace(sweeps: Sequence[Sweep], wanders: Sequence[Wander], noise_mm: float, low_mm: F64) -> Traced:
    """Successive readings in one small bin of angle, by their means; each sweep keeps a level of its own.
    noise_mm: of a single reading, the display's step included. low_mm: see `Traced`."""
    barred = sum(float(np.sum(np.abs(np.diff(sweep.angle_deg)))) for sweep in sweeps)
    width = max(CLOSE_DEG, barred / GROUPS_MAX)
    parts: list[tuple[F64, F64, F64, F64]] = []
    blocks: list[F64] = []
    for sweep, wander in zip(sweeps, wanders, strict=True):
        bins = np.floor(sweep.angle_deg / width)
        label = np.concatenate([[0], np.cumsum(np.diff(bins) != 0)])
        copies = np.bincount(label).astype(float)
        order = np.arange(label.size, dtype=np.float64)
        angle, along, late, value = (
            np.asarray(np.bincount(label, x) / copies)
            for x in (sweep.angle_deg, progress(sweep), order, sweep.value_mm - sweep.value_mm.mean())
        )
        parts.append((angle, late, value, copies))
        blocks.append(wander.columns(along))
    nuisance = np.zeros((sum(b.shape[0] for b in blocks), sum(b.shape[1] for b in blocks)))
    row = column = 0
    for block in blocks:
        nuisance[row : row + block.shape[0], column : column + block.shape[1]] = block
        row, column = row + block.shape[0], column + block.shape[1]
    angle, late, value, copies = (np.concatenate(x) for x in zip(*parts, strict=True))
    # Sweeps follow each other far apart: no noise runs on from one into the next.
    late = late + APART * np.repeat(np.arange(len(parts)), [part[0].size for part in parts])
    return Traced(
        angle_deg=angle,
        order=late,
        value_mm=value,
        copies=copies,
        nuisance=nuisance,
        prior_mm=np.concatenate([wander.prior_mm() for wander in wanders]),
        noise_mm=noise_mm,
        low_mm=low_mm,
        range_mm=max(float(np.ptp(sweep.value_mm)) for sweep in sweeps),
        gap_deg=float(np.median([_gap_deg(sweep) for sweep in sweeps])),
    )


def _gap_deg(sweep: Sweep) -> float:
    """The distance of neighbouring places around the turn that nine of ten stay below, in degrees."""
    places = np.sort(np.mod(sweep.angle_deg, 360.0))
    return float(np.quantile(np.diff(np.append(places, places[0] + 360.0)), 0.9))
