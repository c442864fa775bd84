"""The waves of one sweep, each as a complex number with its covariance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from config.method import Method
from contract.result import SurfaceCheck
from grading.evidence import F64, Sweep
from grading.kinds.parts import SEED
from grading.kinds.surfaces import judge_surface
from grading.runout.ways import DRAWS, wander_of, way_of
from grading.signs.prepared import prepare
from grading.signs.steps import as_shown
from grading.surface.draws import PLACES, Probe, draw

C128 = NDArray[np.complex128]

# The highest order that is looked at: above it a rim has little, and an angle's error turns it about.
ORDERS = 8
# What a fit leaves over that is no noise counts as so many readings at the most, one for each 45 degrees: it
# hangs together around the turn. Our own choice, no source.
INDEPENDENT = 8


@dataclass(frozen=True, slots=True)
class Waves:
    """value_mm: shape (ORDERS,), order k in place k - 1: amplitude times exp(i k phase), so that the surface
    is the sum of Re(value exp(-i k angle)). covariance: shape (ORDERS, 2, 2), of real and imaginary part,
    mm^2. mean_mm: shape (720,), the mean surface. check: how the sweep is judged by itself."""

    value_mm: C128
    covariance: F64
    mean_mm: F64
    check: SurfaceCheck


def unfit(check: SurfaceCheck) -> str | None:
    """Why a sweep says nothing of its waves; None where it does."""
    if check.outcome == "invalid":
        return check.reason
    return "; ".join(check.doubts) if check.doubts else None


def waves_of(sweep: Sweep, method: Method) -> Waves | SurfaceCheck:
    """The waves of one sweep, or only how it is judged where it is not fit to tell them.

    The covariance holds what is random (drawn, JCGM 101:2008), and what a whole sweep has in common: its
    angles off together by their standard uncertainty, the gauge's permissible error (half of it in an
    amplitude, rectangular, any phase), and the method's allowances.
    """
    rules = method.surface(sweep.surface)
    check = judge_surface(sweep.surface, (sweep,), method)
    if unfit(check) is not None:
        return check
    one = prepare(as_shown(sweep, rules.sweep.coarser), rules.sweep)
    rng = np.random.default_rng([SEED, 2])
    wander = wander_of(one.seen, rules.sweep)
    way = way_of([one.clean], [wander], one.running, rng, rules.sweep)
    places = np.arange(PLACES, dtype=np.float64) * (360.0 / PLACES)
    still = np.zeros((PLACES, way.posterior.weighed.leading))
    drawn = draw(way.posterior.weighed, rng, DRAWS, Probe(places, still)).probed_mm
    assert drawn is not None
    each = _waves(drawn)
    pairs = np.stack([each.real, each.imag], axis=-1)
    off = pairs - pairs.mean(axis=0)
    random = np.einsum("mki,mkj->kij", off, off) / (DRAWS - 1)
    value = each.mean(axis=0) if way.rough is None else _waves(way.mean_mm[None])[0]
    allow, gauge = rules.allow, sweep.gauge
    flat = gauge.mpe_mm**2 / 12 + allow.form_mm**2 / 4
    flat += (allow.main_bearing_mm**2 + allow.hysteresis_mm**2 + allow.temperature_mm**2) / 3
    if way.rough is not None:
        flat += 2 * way.rest.scatter_mm**2 / INDEPENDENT
    turned = np.deg2rad(float(np.median(sweep.angle_u_deg))) * np.arange(1, ORDERS + 1) * value * 1j
    along = np.stack([turned.real, turned.imag], axis=-1)
    return Waves(
        value_mm=value,
        covariance=random * (1 + allow.form_share**2)
        + flat * np.eye(2)
        + along[:, :, None] * along[:, None, :],
        mean_mm=way.mean_mm,
        check=check,
    )


def _waves(heights_mm: F64) -> C128:
    """Orders 1 … ORDERS of heights evenly around the turn, shape (m, places) to (m, ORDERS)."""
    found = np.conj(np.fft.rfft(heights_mm, axis=1)[:, 1 : ORDERS + 1]) * (2 / heights_mm.shape[1])
    return np.asarray(found, dtype=np.complex128)
