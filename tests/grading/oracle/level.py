"""Whether the level moved, asked of one who is told when it would have, and that one sweep in two does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from grading.evidence import F64
from tests.grading.oracle.judged import Judged, judged, mixed
from tests.grading.oracle.sound import mean_of, sound
from tests.grading.oracle.told import Told
from tests.grading.oracle.world import know

DRAWS = 600


@dataclass(frozen=True, slots=True)
class Moves:
    """How a level may move. columns: what it may be made of, given the sweep, shape (n, k); log_density: of
    the sizes of these, shape (m, k), in mm; sd_mm: of a normal distribution that holds them."""

    columns: Callable[[Told], F64]
    log_density: Callable[[F64], F64]
    sd_mm: float


def either_way(low_mm: float, high_mm: float) -> Callable[[F64], F64]:
    """Each size uniform between these, either way."""

    def log_density(size: F64) -> F64:
        inside = (np.abs(size) >= low_mm) & (np.abs(size) <= high_mm)
        each = np.where(inside, -np.log(2 * (high_mm - low_mm)), -np.inf)
        return np.asarray(each.sum(axis=1))

    return log_density


def either_way_log(low_mm: float, high_mm: float) -> Callable[[F64], F64]:
    """Each size uniform in its logarithm between these, either way."""

    def log_density(size: F64) -> F64:
        inside = (np.abs(size) >= low_mm) & (np.abs(size) <= high_mm)
        each = np.where(
            inside, -np.log(2 * np.log(high_mm / low_mm) * np.maximum(np.abs(size), low_mm)), -np.inf
        )
        return np.asarray(each.sum(axis=1))

    return log_density


def any_phase(low_mm: float, high_mm: float) -> Callable[[F64], F64]:
    """Cosine and sine of an amplitude uniform between these, of any phase."""

    def log_density(size: F64) -> F64:
        radius = np.hypot(size[:, 0], size[:, 1])
        inside = (radius >= low_mm) & (radius <= high_mm)
        return np.asarray(np.where(inside, -np.log(2 * np.pi * radius * (high_mm - low_mm)), -np.inf))

    return log_density


def _steps(one: Told) -> F64:
    """A column for each jump, at the times at which it came."""
    at = np.flatnonzero(np.abs(np.diff(one.day.moved_mm)) > 1e-9) + 1
    return np.asarray(np.arange(one.sweep.value_mm.size)[:, None] >= at, dtype=np.float64)


def _spell(one: Told) -> F64:
    """One column: from one jump to the other."""
    return np.asarray(np.abs(one.day.moved_mm) > 1e-9, dtype=np.float64)[:, None]


def _half_sine(one: Told) -> F64:
    return np.asarray(np.sin(np.pi * np.linspace(0, 1, one.sweep.value_mm.size)))[:, None]


def _half_order(one: Told) -> F64:
    half = np.deg2rad(one.path_deg) / 2
    return np.stack([np.cos(half), np.sin(half)], axis=1)


MOVES = {
    "slip": Moves(_steps, either_way(0.005, 0.028), 0.018),
    "two slips": Moves(_steps, either_way(0.005, 0.028), 0.018),
    "big slip": Moves(_steps, either_way(0.09, 0.11), 0.1),
    "knock and back": Moves(_spell, either_way_log(0.03, 0.15), 0.08),
    "base returns": Moves(_spell, either_way(0.005, 0.028), 0.018),
    "there-and-back drift": Moves(_half_sine, either_way(0.003, 0.010), 0.007),
    "half-order wobble": Moves(_half_order, any_phase(0.002, 0.010), 0.0047),
}


def weighed(one: Told, moves: Moves, rng: np.random.Generator) -> Judged:
    """Sound or moved, each as likely before any reading."""
    still = sound(one)
    columns = moves.columns(one)
    k = columns.shape[1]
    parts = [(still.log_evidence, still.tirs_mm(rng, DRAWS))]
    logs, tirs = [], []
    for world, near in zip(still.worlds, still.known, strict=True):
        wider = world.beside(columns, np.full(k, moves.sd_mm))
        known = know(wider, one.sweep.value_mm, one.step_mm, one.day.noise_mm)
        if near.log_evidence < still.log_evidence - 40 and known.log_evidence < still.log_evidence - 40:
            continue
        drawn = known.draws(rng, DRAWS)
        size = drawn[:, -k:]
        normal = -0.5 * np.sum((size / moves.sd_mm) ** 2, axis=1) - k * np.log(
            moves.sd_mm * (2 * np.pi) ** 0.5
        )
        weight = moves.log_density(size) - normal
        if not np.isfinite(weight).any():
            continue
        share = np.exp(weight - weight.max())
        picked = drawn[rng.choice(DRAWS, DRAWS, p=share / share.sum())]
        logs.append(known.log_evidence + mean_of(list(weight)))
        tirs.append(np.ptp(picked @ wider.on_surface.T, axis=1))
    if logs:
        families = len(still.worlds)
        moved = float(np.logaddexp.reduce(logs)) - float(np.log(families))
        parts.append((moved, mixed(list(zip(logs, tirs, strict=True)), rng, DRAWS)))
    return judged(one, mixed(parts, rng, DRAWS))
