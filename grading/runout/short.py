"""Short waves taken out of sweeps, and what they add to the surface's TIR."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.runout.swings import UNKNOWN_SHARE, Swing, swing_of
from grading.surface.draws import PLACES, Surfaces


@dataclass(frozen=True, slots=True)
class WithoutShort:
    """Sweeps and what a fit leaves over of each, without waves too short for it. noise_mm: of a single
    reading. higher_mm: shape (m,), by how much the waves make the surface go up and down by more.
    height_mm: highest less lowest of them; 0 without."""

    sweeps: Sequence[Sweep]
    left: Sequence[F64]
    noise_mm: float
    higher_mm: F64
    height_mm: float = 0.0


def without_short(
    sweeps: Sequence[Sweep],
    left: Sequence[F64],
    noise_mm: float,
    surfaces: Surfaces,
    rng: np.random.Generator,
    rules: SweepRules,
) -> WithoutShort:
    """What the fit took for noise is of the surface, and no more of its readings' scatter; or it is of a
    plunger that chatters, which one turn does not tell: some draws take it for that."""
    step = sweeps[0].gauge.resolution_mm
    found = [
        swing_of(part, float(np.ptp(sweep.angle_deg)) / 360.0, step, noise_mm, rules.misfit_from)
        for part, sweep in zip(left, sweeps, strict=True)
    ]
    there = [(sweep, wave) for sweep, wave in zip(sweeps, found, strict=True) if wave is not None]
    if not there:
        return WithoutShort(sweeps, left, noise_mm, np.zeros(surfaces.tir_mm.size))
    higher = np.mean([_higher(*each, surfaces, rng) for each in there], axis=0)
    at = [0.0 if wave is None else wave.at_mm for wave in found]
    without = [part - waves for part, waves in zip(left, at, strict=True)]
    share = float(np.std(np.concatenate(without)) / np.std(np.concatenate(left)))
    return WithoutShort(
        [replace(sweep, value_mm=sweep.value_mm - waves) for sweep, waves in zip(sweeps, at, strict=True)],
        without,
        noise_mm * share,
        higher * (rng.random(surfaces.tir_mm.size) < rules.plain_share),
        max(float(np.ptp(wave.finer_mm)) for _, wave in there),
    )


def _higher(sweep: Sweep, short: Swing, surfaces: Surfaces, rng: np.random.Generator) -> F64:
    """By how much short waves make the surface go up and down by more, shape (m,): at and between the
    readings, as each was told where it is."""
    n = sweep.angle_deg.size
    along = np.linspace(0.0, n, short.finer_mm.size, endpoint=False)
    angle = np.interp(along, np.arange(n), sweep.angle_deg)
    closed = np.append(surfaces.mean_mm, surfaces.mean_mm[0])
    plain = np.interp(np.mod(angle, 360.0), np.arange(PLACES + 1) * (360.0 / PLACES), closed)
    more = float(np.ptp(plain + short.finer_mm) - np.ptp(plain))
    return rng.normal(more, np.hypot(UNKNOWN_SHARE * more, 2**0.5 * short.noise_mm), surfaces.tir_mm.size)
