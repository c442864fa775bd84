"""A level that may have moved, by an oracle that is not told that it did, nor when.

Told noise, true angles, the families of surfaces and how a level moves, the oracle weighs a sound sweep
against a moved one, wherever it may have been. A bay meets sound sweeps most of the time, so that it may take
few of them for moved: only so few that their intervals stay about as sharp. Each disturbed sweep has a twin,
the same day with nothing moved. Steps of a display count as noise (JCGM 100:2008, F.2.2.1), so that all but
sizes and moments is linear and normal, and those are tried on a grid (textbook Bayesian regression).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64, Sweep
from tests.grading.adverse.catalogue import BY_NAME
from tests.grading.adverse.day import LIMIT_MM, Take
from tests.grading.adverse.study import SEED
from tests.grading.oracle.judged import Judged, judged
from tests.grading.oracle.study import Best, ours
from tests.grading.oracle.told import Told, ToldDay, told
from tests.grading.oracle.world import families, surface_world

PRIORS = (0.5, 0.2, 0.1, 0.05, 0.02)
# As good as none: what sharpness is held against.
NONE = 1e-9
DRAWS = 1000
# Sizes that are tried. A level may move before any reading: on a coarser grid of moments the readings between
# an edge and its nearest moment speak against every way, and the oracle misses what moved.
SIZES = 12
Which = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Ways:
    """How a level may move. sizes_mm: equally likely. basis: shape (n, b). begin, end: shape (c,) each, of
    each way the column of `basis` by which it moves, at a size of one, and the one that takes that back."""

    sizes_mm: F64
    basis: F64
    begin: Which
    end: Which

    def drawn(self, ways: Which, sizes_mm: F64) -> F64:
        """Of ways and sizes, shape (m,) each, what each column moves, shape (m, b)."""
        total, row = np.zeros((ways.size, self.basis.shape[1])), np.arange(ways.size)
        total[row, self.begin[ways]] = sizes_mm
        total[row, self.end[ways]] -= sizes_mm
        return total


def _both(sizes: F64) -> F64:
    return np.concatenate([sizes, -sizes])


def _slip(one: Told) -> Ways:
    n = one.sweep.value_mm.size
    at = np.arange(int(0.04 * n), int(0.96 * n) + 1)
    # Nothing takes it back: the last column is none.
    columns = np.column_stack([np.arange(n)[:, None] >= at, np.zeros(n)]).astype(np.float64)
    return Ways(
        _both(np.linspace(0.005, 0.028, SIZES)), columns, np.arange(at.size), np.full(at.size, at.size)
    )


def _for_a_while(sizes: F64, low_deg: float, high_deg: float) -> Callable[[Told], Ways]:
    def ways(one: Told) -> Ways:
        edges = np.unique(np.maximum.accumulate(one.path_deg))
        columns = np.asarray(one.path_deg[:, None] >= edges, dtype=np.float64)
        apart = edges[None, :] - edges[:, None]
        begin, end = np.nonzero((apart >= low_deg) & (apart <= high_deg))
        return Ways(_both(sizes), columns, begin, end)

    return ways


def _there_and_back(one: Told) -> Ways:
    curve = np.sin(np.pi * np.linspace(0, 1, one.sweep.value_mm.size))
    columns = np.column_stack([curve, np.zeros(curve.size)])
    return Ways(_both(np.linspace(0.003, 0.010, SIZES)), columns, np.array([0]), np.array([1]))


WAYS: dict[str, Callable[[Told], Ways]] = {
    "slip": _slip,
    "base returns": _for_a_while(np.linspace(0.005, 0.028, SIZES), 60, 150),
    "knock and back": _for_a_while(np.geomspace(0.03, 0.15, SIZES), 3, 40),
    "there-and-back drift": _there_and_back,
}


@dataclass(frozen=True, slots=True)
class Either:
    """log_odds: of moved against sound, each as likely before any reading. tirs: equally likely true TIRs of
    either, shape (DRAWS,) each."""

    log_odds: float
    sound_mm: F64
    moved_mm: F64


def either(one: Told, ways: Ways, rng: np.random.Generator) -> Either:
    """Both, over all families of surfaces, moments and sizes."""
    scale = float(np.ptp(one.sweep.value_mm)) / LIMIT_MM
    each = [_family(one, ways, scale * sizes) for sizes in families()]
    sound_log = np.array([found.log for found in each])
    moved_log = np.array([found.log + found.moved for found in each])
    tirs = []
    for logs, moved in ((sound_log, False), (moved_log, True)):
        share = np.exp(logs - logs.max())
        counts = rng.multinomial(DRAWS, share / share.sum())
        drawn = [found.tirs_mm(moved, n, rng) for found, n in zip(each, counts, strict=True) if n]
        tirs.append(np.concatenate(drawn))
    odds = float(np.logaddexp.reduce(moved_log) - np.logaddexp.reduce(sound_log))
    return Either(odds, tirs[0], tirs[1])


@dataclass(frozen=True, slots=True)
class _Family:
    """One family of surfaces. log: evidence of a sound sweep; moved: what it gains by having moved, on
    average over ways and sizes; chance: of each of these, shape (s,); shifts_of: what they are, in mm."""

    log: float
    moved: float
    mean_mm: F64
    root: F64
    on_surface: F64
    by_basis: F64
    chance: F64
    shifts_of: Callable[[Which], F64]

    def tirs_mm(self, moved: bool, count: int, rng: np.random.Generator) -> F64:
        """Equally likely true TIRs."""
        surface = (self.mean_mm + rng.standard_normal((count, self.mean_mm.size)) @ self.root.T) @ (
            self.on_surface.T
        )
        if moved:
            picked = rng.choice(self.chance.size, count, p=self.chance)
            surface = surface - self.shifts_of(picked) @ self.by_basis.T
        return np.asarray(np.ptp(surface, axis=1))


def _family(one: Told, ways: Ways, sizes_mm: F64) -> _Family:
    world = surface_world(one, one.path_deg, sizes_mm)
    x, y = world.x * world.prior_mm, one.sweep.value_mm - float(one.sweep.value_mm.mean())
    variance = one.day.noise_mm**2 + one.step_mm**2 / 12
    inverse = np.linalg.inv(np.eye(x.shape[1]) + x.T @ x / variance)
    fitted = inverse @ (x.T @ y) / variance
    log = float(0.5 * np.linalg.slogdet(inverse)[1] - 0.5 * (y @ y - y @ (x @ fitted)) / variance)
    basis = ways.basis
    taken = inverse @ (x.T @ basis) / variance
    square = (basis.T @ basis - (x.T @ basis).T @ taken) / variance
    shown = (basis.T @ y - (x.T @ basis).T @ fitted) / variance
    begin, end, own = ways.begin, ways.end, np.diag(square)
    first, size = shown[begin] - shown[end], ways.sizes_mm
    halves = 0.5 * (own[begin] + own[end] - 2 * square[begin, end])
    gain = (size * first[:, None] - size**2 * halves[:, None]).ravel()
    most = float(gain.max())
    chance = np.exp(gain - most)
    moved = most + float(np.log(chance.mean()))

    def shifts_of(picked: Which) -> F64:
        way, of_size = np.divmod(picked, size.size)
        return ways.drawn(way, size[of_size])

    root = np.linalg.cholesky(inverse)
    return _Family(
        log,
        moved,
        world.prior_mm * fitted,
        world.prior_mm[:, None] * root,
        world.on_surface,
        world.on_surface @ (world.prior_mm[:, None] * taken),
        chance / chance.sum(),
        shifts_of,
    )


def by_prior(one: Told, found: Either, prior: float, rng: np.random.Generator) -> Judged:
    """Where so many sweeps in one are moved, before any reading."""
    odds = found.log_odds + float(np.log(prior / (1 - prior)))
    share = 1 / (1 + float(np.exp(-np.clip(odds, -700, 700))))
    count = rng.binomial(DRAWS, share)
    drawn = np.concatenate([rng.choice(found.moved_mm, count), rng.choice(found.sound_mm, DRAWS - count)])
    return judged(one, drawn)


class TwinDay(ToldDay):
    """The same day, on which nothing moved."""

    def read(self, take: Take) -> Sweep:
        """As ever, by what was there before anything went wrong."""
        take.value = self.sound_mm.copy()
        return super().read(take)


def twin(name: str, number: int, seed: int = SEED) -> Told:
    """The sweep of this number of this regime, had nothing moved."""
    regime = BY_NAME[name]
    day = TwinDay(seed, name, number, regime.truths_mm)
    (sweep,) = regime.build(day)
    return Told(day, sweep)


@dataclass(frozen=True, slots=True)
class Seen:
    """One sweep, by the oracle for each prior (NONE first), and by ringtrue."""

    by: tuple[Judged, ...]
    ours: Best


def seen(one: Told, name: str, seed: int) -> Seen:
    """Looked at once for all priors."""
    rng = np.random.default_rng([11, seed])
    found = either(one, WAYS[name](one), rng)
    return Seen(tuple(by_prior(one, found, prior, rng) for prior in (NONE, *PRIORS)), ours(one))


def table(names: tuple[str, ...], sweeps: int) -> Iterator[str]:
    """A line for ringtrue and for each prior of each regime, shares in per cent, of the sweeps that ringtrue
    does not call `invalid`. U: of sound sweeps, the median with the gauge's span error in um, and times what
    it is without it and without a prior, on average."""
    yield f"{'':24}{'prior':>10}{'U':>8}{'times':>8}{'sound: holds':>14}{'moved: holds':>14}{'of':>5}"
    for name in names:
        pairs = [
            [seen(one, name, number) for one in (twin(name, number), told(name, number))]
            for number in range(sweeps)
        ]
        sound, moved = ([p[i] for p in pairs if p[i].ours.covered is not None] for i in (0, 1))
        u_mm = float(np.median([one.ours.u_mm or 0.0 for one in sound]))
        held = [100 * float(np.mean([bool(one.ours.covered) for one in part])) for part in (sound, moved)]
        yield f"{name:24}{'ringtrue':>10}{1000 * u_mm:8.1f}{'':8}{held[0]:14.0f}{held[1]:14.0f}{len(moved):5}"
        for i, prior in enumerate((NONE, *PRIORS)):
            u_mm = float(np.median([one.by[i].u_mm for one in sound]))
            grown = [np.log(one.by[i].random_u_mm / one.by[0].random_u_mm) for one in sound]
            held = [100 * float(np.mean([_holds(one.by[i]) for one in part])) for part in (sound, moved)]
            yield (
                f"{name:24}{prior:10g}{1000 * u_mm:8.1f}{float(np.exp(np.mean(grown))):8.2f}"
                f"{held[0]:14.0f}{held[1]:14.0f}{len(moved):5}"
            )


def _holds(one: Judged) -> bool:
    return abs(one.estimate_mm - one.truth_mm) <= one.u_mm


REGIMES = tuple(WAYS)
