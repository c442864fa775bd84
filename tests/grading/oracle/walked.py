"""How sharp anybody can be who is told how such sweeps come about: the honest grid's 0.01 mm display again.

All that the readings leave possible, by a walk among equally likely explanations (Hamiltonian Monte Carlo,
from memory: Neal 2011) with the exact likelihood of the display's steps. It begins at the truth, which is one
of them, so that nothing has to be found first; what it should not reach would only make its errors larger.
Told are how many orders there are, whether there is a dent, how large drift is as a rule, the marks, and how
unevenly the crank is barred; that the gauge is right, and with an encoder every angle. To be found are the
surface with its dent, the sizes of the orders, drift, noise, and where between the marks the crank was when.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from contract.gauge import GaugeFacts
from grading.evidence import F64, Sweep
from grading.surface.harmonics import columns
from grading.surface.quantised import interval_moments
from grading.surface.tir import TirDistribution
from tests.grading.adverse.day import GAUGES
from tests.grading.coverage_study import HARMONICS, SOURCES
from tests.grading.estimate import estimate_runout
from tests.grading.oracle.sought import Dent
from tests.grading.oracle.world import DENSE_DEG, DRIFT_MM
from tests.grading.synthetic import SurfaceShape, random_case

STEP_MM, MPE_MM = GAUGES[0]
ASKED_MM, SEED = 0.004, 20261127
PER_TURN = (150, 3000)
MARKS, MARK_U_DEG = (3, 4, 6, 8), 0.5
# The pace is made of so many values over the sweep, in as many waves as tell them to this share.
KNOTS, WAVES_TO = 240, 1e-4
# What the grid draws: falling off of the orders, noise, height (of the harmonics' TIR) and width of a dent.
FALLS, NOISE_MM, HEIGHTS, WIDTHS_DEG = (0.5, 2.0), (0.0005, 0.005), (0.08, 0.6), (5.0, 15.0)
# An amplitude of which less than this is known counts as none, in mm.
LEAST_MM = 0.0003
# Steps of a stride, their length in standard deviations, the shares by which it shrinks and grows.
LEAPS, LENGTH, SHRINKS, GROWS = 8, (0.12, 0.3), 0.88, 1.05
# So much less likely, in logarithms, a stride has left what is possible.
LOST = 100.0
TRIED_DEG = 0.02


@dataclass(frozen=True, slots=True)
class Sharpest:
    """off_mm: equally likely TIRs less the true one, shape (m,); ours_mm: what the estimate is off by.
    by_marks, is_dented: of the sweep."""

    off_mm: F64
    ours_mm: float
    by_marks: bool
    is_dented: bool

    @property
    def best_mm(self) -> float:
        """What the middle of them is off by."""
        return float(np.median(self.off_mm))


def sharpest(number: int, seed: int, *, steps: int = 150, pace_told: bool = False) -> Sharpest:
    """Of the sweep of this number, cells in the order of the study. pace_told: and with it all angles."""
    walk = Walk(number, seed, pace_told=pace_told)
    found = estimate_runout([walk.sweep()], seed=number).distribution
    ours = TirDistribution(found.centres_mm, found.sd_mm, 0.0).median_mm()
    true = walk.tir_mm(walk.place)
    return Sharpest(walk.tirs_mm(steps) - true, ours - true, walk.by_marks, walk.shape.height != 0.0)


def error_95_mm(found: Sequence[Sharpest]) -> float:
    """What 95 of 100 errors of the best estimate stay below: of all draws about their sweep's own middle, as
    the truth is one of them."""
    return float(np.quantile(np.abs(np.concatenate([each.off_mm - each.best_mm for each in found])), 0.95))


def table(sweeps: int, seed: int = SEED) -> Iterator[str]:
    """What 95 of 100 errors stay below, in um, and how many of 100 are off by more than ASKED_MM."""
    found = [sharpest(number, seed) for number in range(sweeps)]
    yield f"{'':36}{'sweeps':>8}{'ringtrue':>10}{'beyond':>8}{'best':>8}{'beyond':>8}{'of all draws':>14}"
    for marks, dent in ((None, None), (False, False), (False, True), (True, False), (True, True)):
        some = [x for x in found if marks is None or (x.by_marks, x.is_dented) == (marks, dent)]
        where = f"{'by marks' if marks else 'by encoder'}, {'dent' if dent else 'no dent'}"
        each = [np.abs([x.ours_mm for x in some]), np.abs([x.best_mm for x in some])]
        told = [(1000 * float(np.quantile(x, 0.95)), 100 * float(np.mean(x > ASKED_MM))) for x in each]
        row = "".join(f"{error:{10 - 2 * i}.1f}{beyond:8.0f}" for i, (error, beyond) in enumerate(told))
        yield f"{'all' if marks is None else where:36}{len(some):8}{row}{1000 * error_95_mm(some):14.1f}"


@dataclass(frozen=True, slots=True)
class Pace:
    """How a crank is barred: the logarithm of its speed at KNOTS times, as waves of independent standard
    normal size, shape (KNOTS, q), the first of them its mean. Times are shares of the sweep."""

    waves: F64

    @classmethod
    def drawn(cls, rng: np.random.Generator, whole_deg: float) -> tuple[Pace, F64]:
        """As `synthetic.barred_path` has it, and how it went this time, shape (q,)."""
        at = (np.arange(KNOTS) + 0.5) / KNOTS
        memory, size = rng.uniform(15, 60) / whole_deg, 0.35 * abs(float(rng.standard_normal()) * 0.5 + 1)
        # White noise smoothed by a bell of this memory.
        share, waves = np.linalg.eigh(np.exp(-0.25 * ((at[:, None] - at) / memory) ** 2))
        kept = share > WAVES_TO * share[-1]
        turn, pull = 2 * np.pi * rng.integers(4, 12) * at, 0.3 / 6**0.5
        pulls = pull * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        pace = cls(np.hstack([np.ones((KNOTS, 1)), size * waves[:, kept] * np.sqrt(share[kept]), pulls]))
        z = np.append(0.0, rng.standard_normal(pace.waves.shape[1] - 1))
        much, phase = rng.uniform(0, 0.3), rng.uniform(0, 2 * np.pi)
        z[-2:] = much / pull * np.array([np.cos(phase), np.sin(phase)])
        z[0] = np.log(whole_deg / np.mean(np.exp(pace.waves @ z)))
        return pace, z

    def angle_deg(self, z: F64, at: F64) -> F64:
        """Where the crank was at these times, shape as they."""
        knots = np.append(0.0, np.cumsum(np.exp(self.waves @ z))) / KNOTS
        return np.asarray(np.interp(at * KNOTS, np.arange(KNOTS + 1), knots))

    def moves(self, z: F64, at: F64) -> F64:
        """How that moves with z, shape (n, q)."""
        by_knot = np.cumsum(np.exp(self.waves @ z)[:, None] * self.waves / KNOTS, axis=0)
        each = [np.interp(at * KNOTS, np.arange(KNOTS + 1), np.append(0.0, wave)) for wave in by_knot.T]
        return np.stack(each, axis=1)

    def back(self, by_angle: F64, z: F64, at: F64) -> F64:
        """moves transposed, times by_angle, shape (q,)."""
        where = at * KNOTS
        left = np.minimum(where.astype(np.int64), KNOTS - 1)
        share = where - left
        knots = np.bincount(left, by_angle * (1 - share), KNOTS + 1)
        knots += np.bincount(left + 1, by_angle * share, KNOTS + 1)
        return np.asarray(self.waves.T @ (np.exp(self.waves @ z) / KNOTS * np.cumsum(knots[::-1])[-2::-1]))


class Walk:
    """place: level, drift, cos and sin of each order, height, middle and width of a dent, the pace's waves:
    the explanation at which the walk stands, shape (p,). Beside it noise_mm, the dent's form, and the orders'
    sizes: the first one's, and how they fall off."""

    def __init__(self, number: int, seed: int, *, pace_told: bool = False) -> None:
        self.rng = rng = np.random.default_rng([seed, number])
        case = random_case(
            rng,
            orders=HARMONICS[number % 3],
            feature=number // 3 % 2 == 1,
            source=SOURCES[number // 6 % 2],
            gauge=0,
            per_turn=PER_TURN,
        )
        self.shape = shape = SurfaceShape(rng, case)
        self.by_marks = case.source == "marks"
        self.is_paced = self.by_marks and not pace_told
        whole = 360 + float(rng.uniform(5, 8))
        self.pace, z = Pace.drawn(rng, whole)
        self.at: F64 = np.linspace(0, 1, round(case.per_turn * whole / 360))
        self.marks_deg = np.arange(0.0, 361.0, 360.0 / float(rng.choice(MARKS)))
        missed = rng.normal(0, MARK_U_DEG, self.marks_deg.size) * (self.marks_deg > 0)
        self.pressed = np.interp(self.marks_deg + missed, self.pace.angle_deg(z, self.at), self.at)
        if self.by_marks:
            self.at = self.at[self.at < self.pressed[-1]]
        self.path_deg = self.pace.angle_deg(z, self.at)
        self.orders, self.waves = case.orders, 2 * case.orders
        wave = shape.amplitude[:, None] * np.stack([np.cos(shape.phase), np.sin(shape.phase)], axis=1)
        self.dense = columns(DENSE_DEG, case.orders)
        self.usual_mm = float(np.ptp(self.dense @ wave.ravel()))
        dent = np.array([shape.height, shape.middle, shape.width]) if shape.height else np.zeros(0)
        self.dent_at, self.pace_at = 2 + self.waves, 2 + self.waves + dent.size
        start = [[rng.uniform(0, 1), rng.normal(0, DRIFT_MM)], wave.ravel(), dent, z if self.is_paced else []]
        self.place: F64 = np.concatenate([np.asarray(part, np.float64) for part in start])
        self.noise_mm, self.kind = case.noise_mm, shape.kind
        self.fall = float(np.mean(FALLS))
        k = np.arange(1, self.orders + 1)
        self.first_mm = float(np.sqrt(np.mean((shape.amplitude * k**self.fall) ** 2)))
        seen = self._shown(self.place, self.kind)[0] + rng.normal(0, self.noise_mm, self.at.size)
        self.value_mm: F64 = np.round(seen / STEP_MM) * STEP_MM

    def sweep(self) -> Sweep:
        """As the bay would have it."""
        n = self.at.size
        if self.by_marks:
            angle = np.interp(self.at, self.pressed, self.marks_deg)
            apart = float(self.marks_deg[1])
            share = np.mod(angle, apart) / apart
            u_deg = np.sqrt(MARK_U_DEG**2 + apart**2 * share * (1 - share) / 3)
        else:
            angle, u_deg = self.path_deg, np.full(n, 0.1)
        gauge = GaugeFacts("sim", STEP_MM, MPE_MM)
        return Sweep("rim", angle, self.value_mm, u_deg, 0.05 * np.arange(n, dtype=np.float64), gauge)

    def tir_mm(self, place: F64) -> float:
        """Of the surface there."""
        seen = self.dense @ place[2 : self.dent_at]
        if self.shape.height:
            height, middle, width = place[self.dent_at : self.pace_at]
            seen = seen + height * Dent(middle, width, self.kind).at(DENSE_DEG)
        return float(np.ptp(seen))

    def tirs_mm(self, steps: int) -> F64:
        """Of so many places, one after another, shape (steps,)."""
        root = self._metric()
        found, stride = [], 1.0
        log, up = self.likely(self.place)
        for _ in range(steps):
            speed = self.rng.standard_normal(self.place.size)
            energy = log - 0.5 * speed @ speed
            length = stride * self.rng.uniform(*LENGTH)
            place, at_log, at_up = self.place, log, up
            for _ in range(int(self.rng.integers(LEAPS // 2, LEAPS + 1))):
                speed = speed + 0.5 * length * (root.T @ at_up)
                place = place + length * (root @ speed)
                at_log, at_up = self.likely(place)
                speed = speed + 0.5 * length * (root.T @ at_up)
                if at_log < log - LOST:
                    break
            taken = np.log(self.rng.random()) < at_log - 0.5 * speed @ speed - energy
            if taken:
                self.place = place
            stride = min(stride * GROWS, 1.5) if taken else stride * SHRINKS
            self._resize()
            self._other_noise_and_form()
            log, up = self.likely(self.place)
            found.append(self.tir_mm(self.place))
        return np.array(found)

    def likely(self, place: F64) -> tuple[float, F64]:
        """Logarithm of how likely that place is, up to a constant, and its gradient, shape (p,)."""
        log, by_value, by_prior = self._weighed(place, self.noise_mm, self.kind)
        if not np.isfinite(log):
            return log, np.zeros(place.size)
        _, x, slope = self._shown(place, self.kind)
        up = by_prior
        up[: self.pace_at] += x.T @ by_value
        if self.is_paced:
            up[self.pace_at :] += self.pace.back(by_value * slope, place[self.pace_at :], self.at)
        return log, up

    def _shown(self, place: F64, kind: int) -> tuple[F64, F64, F64]:
        """What the gauge is to show at every reading, how that moves with level, drift, orders and dent,
        shape (n, q), and the surface's slope."""
        path = self.pace.angle_deg(place[self.pace_at :], self.at) if self.is_paced else self.path_deg
        waves, wave = columns(path, self.orders), place[2 : self.dent_at]
        parts = [np.ones((path.size, 1)), np.linspace(-0.5, 0.5, path.size)[:, None], waves]
        seen = place[0] + place[1] * parts[1][:, 0] + waves @ wave
        k = np.deg2rad(np.arange(1, self.orders + 1))
        slope = waves @ np.stack([k * wave[1::2], -k * wave[::2]], axis=1).ravel()
        if self.shape.height:
            height, middle, width = place[self.dent_at : self.pace_at]

            def bump(off: float, wider: float) -> F64:
                return Dent(middle + off, width + wider, kind).at(path)

            by_middle = (bump(TRIED_DEG, 0) - bump(-TRIED_DEG, 0)) / (2 * TRIED_DEG)
            by_width = (bump(0, TRIED_DEG) - bump(0, -TRIED_DEG)) / (2 * TRIED_DEG)
            parts.append(np.stack([bump(0, 0), height * by_middle, height * by_width], axis=1))
            seen, slope = seen + height * parts[-1][:, 0], slope - height * by_middle
        return seen, np.hstack(parts), slope

    def _weighed(self, place: F64, noise_mm: float, kind: int) -> tuple[float, F64, F64]:
        """Logarithm as above; its gradient by each reading's value, shape (n,), and by the place as far as
        that is known before any reading."""
        before = np.zeros(place.size)
        before[1] = -place[1] / DRIFT_MM**2
        log = -0.5 * (place[1] / DRIFT_MM) ** 2
        wave = place[2 : self.dent_at].reshape(-1, 2)
        # The grid draws amplitude and phase: spread over both, that is one more division by the amplitude.
        square, size = np.sum(wave**2, axis=1), self._sizes(self.first_mm, self.fall)
        log -= float(np.sum(square / (2 * size**2) + 0.5 * np.log(square + LEAST_MM**2)))
        before[2 : self.dent_at] = -(wave * (size**-2 + 1 / (square + LEAST_MM**2))[:, None]).ravel()
        if self.shape.height:
            height, _, width = place[self.dent_at : self.pace_at]
            high = abs(height) / self.usual_mm
            if not (HEIGHTS[0] <= high <= HEIGHTS[1] and WIDTHS_DEG[0] <= width <= WIDTHS_DEG[1]):
                return -np.inf, np.zeros(self.at.size), before
            log -= float(np.log(high))
            before[self.dent_at] = -1 / height
        if self.is_paced:
            z = place[self.pace_at :]
            off = (self.pace.angle_deg(z, self.pressed[1:]) - self.marks_deg[1:]) / MARK_U_DEG
            log -= 0.5 * float(z[1:] @ z[1:] + off @ off)
            before[self.pace_at :] = -np.append(0.0, z[1:])
            before[self.pace_at :] += self.pace.back(-off / MARK_U_DEG, z, self.pressed[1:])
        off = self.value_mm - self._shown(place, kind)[0]
        chance, g, _ = interval_moments((off - STEP_MM / 2) / noise_mm, (off + STEP_MM / 2) / noise_mm)
        return log + float(chance.sum()), g / noise_mm, before

    def _sizes(self, first_mm: float, fall: float) -> F64:
        return np.asarray(first_mm * np.arange(1.0, self.orders + 1) ** -fall)

    def _metric(self) -> F64:
        """Root of the covariance that readings and what is known before leave about the truth, shape (p, p):
        the directions and lengths in which the walk strides."""
        seen, x, slope = self._shown(self.place, self.kind)
        known = [0.0, DRIFT_MM**-2, *np.repeat(self._sizes(self.first_mm, self.fall) ** -2, 2)]
        if self.shape.height:
            known += [(0.3 * self.usual_mm) ** -2, 0.02, 0.1]
        if self.is_paced:
            z = self.place[self.pace_at :]
            x = np.hstack([x, slope[:, None] * self.pace.moves(z, self.at)])
            known += [1e-6, *np.ones(z.size - 1)]
        precision = x.T @ (x * information(seen, self.noise_mm, STEP_MM)[:, None]) + np.diag(known)
        if self.is_paced:
            marks = self.pace.moves(z, self.pressed[1:]) / MARK_U_DEG
            precision[self.pace_at :, self.pace_at :] += marks.T @ marks
        scale = np.sqrt(np.diag(precision))
        even = precision / np.outer(scale, scale) + 1e-9 * np.eye(scale.size)
        return np.asarray(np.linalg.inv(np.linalg.cholesky(even)).T / scale[:, None])

    def _resize(self) -> None:
        """Other sizes of the orders, by their amplitudes alone."""
        square = np.sum(self.place[2 : self.dent_at].reshape(-1, 2) ** 2, axis=1)

        def log(first_mm: float, fall: float) -> float:
            size = self._sizes(first_mm, fall)
            inside = FALLS[0] <= fall <= FALLS[1] and 1e-4 < first_mm < 3.0
            return float(-np.sum(square / (2 * size**2) + np.log(size))) if inside else -np.inf

        for _ in range(5):
            first = self.first_mm * float(np.exp(self.rng.normal(0, 0.5 / self.orders**0.5)))
            fall = self.fall + float(self.rng.normal(0, 0.4))
            self._take(log(first, fall) - log(self.first_mm, self.fall), first_mm=first, fall=fall)

    def _other_noise_and_form(self) -> None:
        def log(noise_mm: float, kind: int) -> float:
            return self._weighed(self.place, noise_mm, kind)[0]

        noise = self.noise_mm * float(np.exp(self.rng.normal(0, 2 / self.at.size**0.5)))
        if NOISE_MM[0] <= noise <= NOISE_MM[1]:
            self._take(log(noise, self.kind) - log(self.noise_mm, self.kind), noise_mm=noise)
        kind = int(self.rng.integers(3))
        if self.shape.height and kind != self.kind:
            self._take(log(self.noise_mm, kind) - log(self.noise_mm, self.kind), kind=kind)

    def _take(self, gain: float, **what: float) -> None:
        if np.log(self.rng.random()) < gain:
            for name, value in what.items():
                setattr(self, name, value)


def information(seen_mm: F64, noise_mm: float, step_mm: float) -> F64:
    """Fisher's information of each reading about what was to be read, shape (n,), in 1/mm^2: of a normal
    variable that is told to a step of the display only. Steps that come once in a million are left out."""
    reach = int(np.ceil(5.0 * noise_mm / step_mm)) + 1
    edges = (np.floor(seen_mm / step_mm)[:, None] + np.arange(-reach, reach + 2)) * step_mm
    z = (edges - seen_mm[:, None]) / noise_mm
    chance, rate = np.diff(norm.cdf(z), axis=1), np.diff(norm.pdf(z), axis=1) / noise_mm
    return np.asarray(np.sum(np.where(chance > 1e-6, rate**2 / np.maximum(chance, 1e-6), 0.0), axis=1))
