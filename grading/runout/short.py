"""Short waves taken out of sweeps, and what they add to the surface's TIR."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from config.runout import SweepRules
from grading.evidence import F64, Sweep
from grading.runout.byorder import FINE, Lines, lines_of
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
    *,
    running: bool,
) -> WithoutShort:
    """What the fit took for noise is of the surface, and no more of its readings' scatter; or it is of a
    plunger that chatters, which one turn does not tell: some draws take it for that."""
    step, m = sweeps[0].gauge.resolution_mm, surfaces.tir_mm.size
    at, higher, height = [np.zeros(part.size) for part in left], np.zeros(m), 0.0
    lines = None if running else lines_of(sweeps, left, step, noise_mm, rules.misfit_from)
    if lines is not None:
        at = list(lines.at_mm)
        higher, height = _by_order(lines, surfaces, rng), float(np.ptp(lines.around_mm))
    found = [
        swing_of(part - known, float(np.ptp(sweep.angle_deg)) / 360.0, step, noise_mm, rules.misfit_from)
        for part, known, sweep in zip(left, at, sweeps, strict=True)
    ]
    there = [(sweep, wave) for sweep, wave in zip(sweeps, found, strict=True) if wave is not None]
    if there:
        # A sweep whose readings cannot show them says nothing of how high they are.
        higher = higher + np.mean([_higher(*each, surfaces, rng) for each in there], axis=0)
        height += max(float(np.ptp(wave.finer_mm)) for _, wave in there)
        at = [known if wave is None else known + wave.at_mm for known, wave in zip(at, found, strict=True)]
    elif lines is None:
        return WithoutShort(sweeps, left, noise_mm, higher)
    without = [part - waves for part, waves in zip(left, at, strict=True)]
    share = float(np.std(np.concatenate(without)) / np.std(np.concatenate(left)))
    return WithoutShort(
        [replace(sweep, value_mm=sweep.value_mm - waves) for sweep, waves in zip(sweeps, at, strict=True)],
        without,
        noise_mm * share,
        higher * (rng.random(m) < rules.plain_share),
        height,
    )


def _by_order(lines: Lines, surfaces: Surfaces, rng: np.random.Generator) -> F64:
    """By how much waves known by order make the surface go up and down by more, shape (m,)."""
    closed = np.append(surfaces.mean_mm, surfaces.mean_mm[0])
    plain = np.interp(np.arange(FINE) * (PLACES / FINE), np.arange(PLACES + 1), closed)
    more = float(np.ptp(plain + lines.around_mm) - np.ptp(plain))
    return rng.normal(more, np.hypot(UNKNOWN_SHARE * more, 2**0.5 * lines.u_mm), surfaces.tir_mm.size)


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
