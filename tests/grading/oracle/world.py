"""One explanation of a sweep: columns with known priors, white noise, and a display's step."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from grading.evidence import F64
from grading.surface.harmonics import columns
from grading.surface.quantised import interval_moments
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.oracle.told import Told

DENSE_DEG: F64 = np.arange(0.0, 360.0, 0.5)
LEVEL_MM, DRIFT_MM = 0.5, 0.0015
# Of the families of surfaces that the days draw, so many are tried.
ORDERS, SLOPES = (1, 2, 3, 4, 5, 6, 8, 10, 12), (0.75, 1.5)
# The noise is let down to its own size from the display's step in so many rounds.
ROUNDS, STEPS = 4, 3
# Further than any surface.
OPEN_MM = 1.0


@dataclass(frozen=True, slots=True)
class World:
    """x: shape (n, p); prior_mm: standard deviations (p,); on_surface: columns of the surface at DENSE_DEG,
    shape (720, p), zero for what is none."""

    x: F64
    prior_mm: F64
    on_surface: F64

    def beside(self, x: F64, prior_mm: F64, on_surface: F64 | None = None) -> World:
        """With further columns; without on_surface they are no part of the surface."""
        more = np.zeros((DENSE_DEG.size, x.shape[1])) if on_surface is None else on_surface
        return World(
            np.hstack([self.x, x]), np.append(self.prior_mm, prior_mm), np.hstack([self.on_surface, more])
        )


@dataclass(frozen=True, slots=True)
class Known:
    """log_evidence, and the posterior of the columns as a normal distribution: mean (p,), root (p, p) of its
    covariance. Laplace's approximation (of a log-concave likelihood: one mode)."""

    log_evidence: float
    mean: F64
    root: F64
    about_mm: float

    def draws(self, rng: np.random.Generator, count: int) -> F64:
        """Shape (count, p)."""
        return np.asarray(self.mean + rng.standard_normal((count, self.mean.size)) @ self.root.T)


def surface_world(one: Told, angle_deg: F64, sizes_mm: F64 | None = None, *, dent_told: bool = True) -> World:
    """Level, drift, and the surface, at angles shape (n,). sizes_mm: what the amplitude of each order is
    expected to be, shape (orders,); None: as the day's own are, which tells all but their phases. A dent's
    place, form and size are told, not whether it is a dent or a bulge; dent_told: or there is none in it."""
    shape, n = one.day.shape, angle_deg.size
    sizes = shape.amplitude if sizes_mm is None else sizes_mm
    world = World(
        np.column_stack([np.ones(n), np.linspace(-0.5, 0.5, n), columns(angle_deg, sizes.size)]),
        np.concatenate([[LEVEL_MM, DRIFT_MM], np.repeat(sizes / 2**0.5, 2) + 1e-7]),
        np.hstack([np.zeros((DENSE_DEG.size, 2)), columns(DENSE_DEG, sizes.size)]),
    )
    if not shape.height or not dent_told:
        return world
    dent, dense = (_dent(one, at)[:, None] for at in (angle_deg, DENSE_DEG))
    return world.beside(dent, np.array([abs(shape.height)]), dense)


@cache
def families() -> tuple[F64, ...]:
    """Sizes of the orders by which the days draw their surfaces, each as likely as any other: how many, and
    how they fall off; so large that the TIR comes to about the limit."""
    rng = np.random.default_rng(1)
    found = []
    for orders in ORDERS:
        for slope in SLOPES:
            size = np.arange(1, orders + 1) ** -slope
            waves = columns(DENSE_DEG, orders)
            drawn = rng.standard_normal((200, 2 * orders)) * np.repeat(size / 2**0.5, 2)
            usual_mm = float(np.median(np.ptp(drawn @ waves.T, axis=1)))
            found.append(np.asarray(size * (LIMIT_MM / usual_mm), np.float64))
    return tuple(found)


def _dent(one: Told, angle_deg: F64) -> F64:
    """The told dent at height 1: the whole surface less its harmonics."""
    shape = one.day.shape
    waves = columns(angle_deg, shape.amplitude.size)
    phase = np.stack([np.cos(shape.phase), np.sin(shape.phase)], axis=1)
    smooth = waves @ (shape.amplitude[:, None] * phase).ravel()
    return np.asarray((shape(angle_deg) - smooth) / shape.height)


def know(
    world: World,
    value_mm: F64,
    step_mm: float,
    noise_mm: float | F64,
    open_end: F64 | None = None,
    near: Known | None = None,
) -> Known:
    """What readings of a display, each known to half a step, and noise of this size leave. noise_mm: of all,
    or of each reading, shape (n,). open_end: shape
    (n,), +1 of a reading that may be anything from the middle of what it shows upwards, -1 downwards. near:
    what is known without them, from which the search begins."""
    x = world.x * world.prior_mm
    noise = np.broadcast_to(np.asarray(noise_mm, np.float64), value_mm.shape)
    y = value_mm - value_mm.mean() if near is None else value_mm - near.about_mm
    below, above = np.full(y.size, step_mm / 2), np.full(y.size, step_mm / 2)
    if open_end is not None:
        below, above = np.where(open_end > 0, 0.0, below), np.where(open_end > 0, OPEN_MM, above)
        below, above = np.where(open_end < 0, OPEN_MM, below), np.where(open_end < 0, 0.0, above)
    p = x.shape[1]
    if near is None:
        variance = noise**2 + step_mm**2 / 12
        found = np.linalg.solve(np.eye(p) + x.T @ (x / variance[:, None]), x.T @ (y / variance))
        sizes = np.geomspace(np.maximum(noise, 0.4 * step_mm), noise, ROUNDS)
    else:
        found, sizes = near.mean / world.prior_mm, np.stack([noise, noise])
    hessian = np.eye(p)
    for size in np.repeat(sizes, STEPS, axis=0):
        off = y - x @ found
        _, g, h = interval_moments((off - below) / size, (off + above) / size)
        hessian = np.eye(p) + x.T @ (x * (h / size**2)[:, None])
        found = found + np.linalg.solve(hessian, x.T @ (g / size) - found)
    off = y - x @ found
    chance, _, _ = interval_moments((off - below) / noise, (off + above) / noise)
    factor = np.linalg.cholesky(hessian)
    evidence = float(chance.sum() - 0.5 * found @ found - np.log(np.diag(factor)).sum())
    root = np.linalg.inv(factor).T
    about = float(np.mean(value_mm)) if near is None else near.about_mm
    return Known(evidence, world.prior_mm * found, world.prior_mm[:, None] * root, about)


def tirs_mm(world: World, known: Known, rng: np.random.Generator, count: int) -> F64:
    """Equally likely true TIRs, shape (count,)."""
    return np.asarray(np.ptp(known.draws(rng, count) @ world.on_surface.T, axis=1))
