"""How sharp anybody can be who knows angles at marks only: the honest grid's 0.01 mm display again.

One who is told the truth, and has only to find it again from the readings: the curvature of their exact
likelihood about it, and what is known before. Told are noise, the size of each order, whether there is a
dent, where and of what form, the gauge's span error, and how unevenly the crank is barred; left to be found
are the surface, a drift, and where between the marks the crank was when. No bay knows so much, and who must
search for the truth errs more. (The information of the readings and the prior's: the Bayesian bound of Van
Trees, taken at each sweep's own truth, from memory; that of a reading is a grouped normal variable's.)
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.stats import norm

from grading.evidence import F64
from grading.surface.harmonics import columns
from tests.grading.adverse.day import GAUGES
from tests.grading.coverage_study import HARMONICS, SOURCES
from tests.grading.oracle.world import DENSE_DEG, DRIFT_MM, LEVEL_MM
from tests.grading.synthetic import SurfaceShape, barred_path, random_case

STEP_MM = GAUGES[0][0]
PER_TURN = (150, 3000)
MARKS, MARK_U_DEG = (3, 4, 6, 8), 0.5
# The longest memory of the pace that the days draw, in degrees: the easiest to follow.
MEMORY_DEG = 60.0
# The pace is made of so many values over the sweep, in as many waves as tell them to this share.
KNOTS, WAVES_TO = 240, 1e-6
# Degrees on either side by which the slope of the surface is taken.
SLOPE_DEG = 0.05


@dataclass(frozen=True, slots=True)
class Sharpest:
    """sd_mm: standard deviation of the best estimate of a sweep's TIR. by_marks, is_dented: of the sweep."""

    sd_mm: float
    by_marks: bool
    is_dented: bool


def sharpest(number: int, seed: int, *, pace_told: bool = False) -> Sharpest:
    """Of the sweep of this number, cells in the order of the study. pace_told: and with it all angles."""
    rng = np.random.default_rng([seed, number])
    case = random_case(
        rng,
        orders=HARMONICS[number % 3],
        feature=number // 3 % 2 == 1,
        source=SOURCES[number // 6 % 2],
        gauge=0,
        per_turn=PER_TURN,
    )
    shape = SurfaceShape(rng, case)
    path = barred_path(rng, case.per_turn, back=False)
    by_marks = case.source == "marks"
    if by_marks:
        path = path[path < 360.0]
    parts, prior = _surface(shape, path)
    seen = shape(path) + rng.uniform(0, STEP_MM)
    told = information(seen, case.noise_mm, STEP_MM)
    beside = np.zeros((0, parts.shape[1]))
    if by_marks and not pace_told:
        moved = _angles(path)
        slope = (shape(path + SLOPE_DEG) - shape(path - SLOPE_DEG)) / (2 * SLOPE_DEG)
        parts = np.hstack([parts, slope[:, None] * moved])
        prior = np.append(prior, np.ones(moved.shape[1]))
        spacing = 360.0 / float(rng.choice(MARKS))
        at = [*np.searchsorted(path, np.arange(spacing, 359.0, spacing)), path.size - 1]
        beside = np.hstack([np.zeros((len(at), beside.shape[1])), moved[at] / MARK_U_DEG])
    precision = parts.T @ (parts * told[:, None]) + beside.T @ beside + np.diag(prior**-2)
    dense = shape(DENSE_DEG)
    ends = _surface(shape, DENSE_DEG[[int(np.argmax(dense)), int(np.argmin(dense))]])[0]
    asked = np.zeros(prior.size)
    asked[: ends.shape[1]] = ends[0] - ends[1]
    asked[:2] = 0.0  # level and drift are no surface
    return Sharpest(float(asked @ np.linalg.solve(precision, asked)) ** 0.5, by_marks, case.feature)


def information(seen_mm: F64, noise_mm: float, step_mm: float) -> F64:
    """Fisher's information of each reading about what was to be read, shape (n,), in 1/mm^2: of a normal
    variable that is told to a step of the display only. Steps that come once in a million are left out."""
    reach = int(np.ceil(5.0 * noise_mm / step_mm)) + 1
    edges = (np.floor(seen_mm / step_mm)[:, None] + np.arange(-reach, reach + 2)) * step_mm
    z = (edges - seen_mm[:, None]) / noise_mm
    chance, rate = np.diff(norm.cdf(z), axis=1), np.diff(norm.pdf(z), axis=1) / noise_mm
    return np.asarray(np.sum(np.where(chance > 1e-6, rate**2 / np.maximum(chance, 1e-6), 0.0), axis=1))


def _surface(shape: SurfaceShape, angle_deg: F64) -> tuple[F64, F64]:
    """Columns of level, drift, orders and dent, shape (n, p), and what is known of them before, (p,)."""
    n = angle_deg.size
    parts = [np.ones((n, 1)), np.linspace(-0.5, 0.5, n)[:, None], columns(angle_deg, shape.amplitude.size)]
    sizes = [np.array([LEVEL_MM, DRIFT_MM]), np.repeat(shape.amplitude / 2**0.5, 2) + 1e-7]
    if shape.height:
        smooth = SurfaceShape.__new__(SurfaceShape)
        smooth.amplitude, smooth.phase, smooth.height = shape.amplitude, shape.phase, 0.0
        parts.append(((shape(angle_deg) - smooth(angle_deg)) / shape.height)[:, None])
        sizes.append(np.array([abs(shape.height)]))
    return np.hstack(parts), np.concatenate(sizes)


def _angles(path: F64) -> F64:
    """What the angles of all readings may be off by, in degrees, as columns of independent standard normal
    size, shape (n, q): the pace's logarithm wanders by as much as it did, with the longest memory."""
    speed = np.diff(np.interp(np.linspace(0, path.size - 1, KNOTS + 1), np.arange(path.size), path))
    wanders = float(np.std(np.log(np.maximum(speed, 1e-6))))
    off = np.cumsum(speed[:, None] * wanders * _waves(float(path[-1])), axis=0)
    at = np.linspace(0, KNOTS, path.size)
    return np.stack([np.interp(at, np.arange(KNOTS + 1), np.append(0.0, wave)) for wave in off.T], axis=1)


@cache
def _waves(whole_deg: float) -> F64:
    """A unit normal process of this memory at KNOTS times, as columns of independent standard normal size."""
    at = np.linspace(0, whole_deg, KNOTS)
    # White noise smoothed by a bell of this memory.
    covariance = np.exp(-0.25 * ((at[:, None] - at) / MEMORY_DEG) ** 2)
    size, waves = np.linalg.eigh(covariance)
    kept = size > WAVES_TO * size[-1]
    return np.asarray(waves[:, kept] * np.sqrt(size[kept]))


def error_95_mm(found: list[Sharpest]) -> float:
    """What 95 of 100 such errors stay below, each normal by its own sweep's standard deviation."""
    sd = np.array([each.sd_mm for each in found])
    low, high = 0.0, 10.0 * float(sd.max())
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if np.mean(2 * norm.cdf(middle / sd) - 1) > 0.95 else (middle, high)
    return high
