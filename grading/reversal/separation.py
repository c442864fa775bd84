"""Two-position error separation: two sweeps, the damper turned on its hub by a known step between them.

The mounting's offset stays with the crank, the damper's own turns with the step, so that the first waves are
s1 = m + d and s2 = m + d exp(-i step), and d = (s2 - s1) / (exp(-i step) - 1). Re-indexing the part against
the axis is what the reversal and multi-position methods of roundness and spindle measurement do (Donaldson
1972; ISO 230-7 and ASME B89.3.4, annexes on error separation; from memory); there the probe is turned too,
which an engine leaves no room for, so that the axis's own wander stays in the mounting's part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from grading.evidence import F64
from grading.reversal.waves import Waves
from grading.statistics.distributions import chi2_quantile

# Steps nearer to none than this, in degrees, make more than 2.7 times one sweep's uncertainty of either part.
STEP_MIN_DEG = 30.0
COVERAGE = 0.95
# A step is contradicted where the higher waves would look so by chance this rarely.
CHANCE = 0.001
# A step so near to the one that was told is the same one, as well as waves tell it; bolt holes lie further
# apart. Our own choice.
NEAR_DEG = 15.0

Whose = Literal["damper", "mounting", "both", "neither", "unclear"]


@dataclass(frozen=True, slots=True)
class Part:
    """One part's offset from the axis. amplitude_mm: half of what it makes a dial show. u_expanded_mm: radius
    of the circle that holds it with 95 % (two output quantities: k = 2.45, JCGM 102:2011, 6.5, from memory),
    which bounds amplitude and direction together. high_deg: crank angle at which it is high under the
    plunger, the damper as it was mounted in the first sweep. high_u_deg: expanded; None where the circle
    holds no offset at all too."""

    amplitude_mm: float
    u_expanded_mm: float
    high_deg: float
    high_u_deg: float | None

    @property
    def is_told(self) -> bool:
        """Whether it is told from none at all."""
        return self.amplitude_mm > self.u_expanded_mm


@dataclass(frozen=True, slots=True)
class StepSeen:
    """What the higher waves say of the step, which turn with the damper and are none of the mounting's.

    agrees: they are what this step makes. tells: they would be others without any step, and
    tells_direction: with the opposite one. Where they do not agree, stood: they are what no step makes.
    others_deg: what other steps they agree with.
    """

    agrees: bool
    tells: bool
    tells_direction: bool
    stood: bool = False
    others_deg: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Separated:
    """Both parts, and what follows. own_tir_mm: what the damper would read on a true mounting. factor: the
    uncertainty of either part, times one sweep's."""

    damper: Part
    mounting: Part
    own_tir_mm: float
    own_tir_u_expanded_mm: float
    factor: float
    step: StepSeen
    whose: Whose


def factor_of(step_deg: float) -> float:
    """Uncertainty of either part, times one sweep's: 0.707 at 180 degrees, 1 at 90, 1.414 at 60, without end
    towards 0 (two independent sweeps; JCGM 100:2008, 5.1.2)."""
    away = float(abs(_turned(step_deg) - 1.0))
    return 2**0.5 / away if away > 0 else float("inf")


def separate(first: Waves, second: Waves, step_deg: float, *, seat_u_mm: float = 0.0) -> Separated:
    """Damper and mounting apart. step_deg: by how much the damper stood further forward on its hub in the
    second sweep: in the direction in which the crank turns while its angles count up. seat_u_mm: how well
    the damper comes back to one place on its mounting, standard uncertainty of each component."""
    turned = _turned(step_deg)
    seated = second.covariance[0] + seat_u_mm**2 * np.eye(2)
    s1, s2 = complex(first.value_mm[0]), complex(second.value_mm[0])
    away = turned - 1.0
    d = (s2 - s1) / away
    m = (s1 * turned - s2) / away
    damper = _part(d, _through(-1 / away, first.covariance[0]) + _through(1 / away, seated))
    mounting = _part(m, _through(turned / away, first.covariance[0]) + _through(-1 / away, seated))
    own = [_own_tir(one, m) for one in (first, second)]
    read_u = max(one.check.u_expanded_mm or 0.0 for one in (first, second))
    step = _step_seen(first, second, step_deg)
    return Separated(
        damper=damper,
        mounting=mounting,
        own_tir_mm=float(np.mean(own)),
        own_tir_u_expanded_mm=float(np.hypot(read_u, 2 * mounting.u_expanded_mm)),
        factor=factor_of(step_deg),
        step=step,
        whose=_whose(damper, mounting) if step.agrees else "unclear",
    )


def _turned(step_deg: float) -> complex:
    return complex(np.exp(-1j * np.deg2rad(step_deg)))


def _through(z: complex, covariance: F64) -> F64:
    """The covariance of a complex number multiplied by z (JCGM 102:2011, 6.2)."""
    by = np.array([[z.real, -z.imag], [z.imag, z.real]])
    return np.asarray(by @ covariance @ by.T)


def _part(value: complex, covariance: F64) -> Part:
    k = chi2_quantile(COVERAGE, 2) ** 0.5
    u = float(k * np.sqrt(np.linalg.eigvalsh(covariance)[-1]))
    size = abs(value)
    high = float(np.rad2deg(np.angle(value)) % 360.0)
    high_u = float(np.rad2deg(np.arcsin(u / size))) if size > u else None
    return Part(size, u, 0.0 if high >= 360.0 else high, high_u)


def _own_tir(one: Waves, mounting: complex) -> float:
    """The true TIR of a sweep, less what its mean surface loses where the mounting's wave is taken out."""
    angle = np.arange(one.mean_mm.size) * (2 * np.pi / one.mean_mm.size)
    without = one.mean_mm - (mounting * np.exp(-1j * angle)).real
    lost = float(np.ptp(one.mean_mm) - np.ptp(without))
    return max((one.check.true_tir_mm or 0.0) - lost, 0.0)


def _whose(damper: Part, mounting: Part) -> Whose:
    apart = damper.amplitude_mm - mounting.amplitude_mm
    if abs(apart) > np.hypot(damper.u_expanded_mm, mounting.u_expanded_mm):
        return "damper" if apart > 0 else "mounting"
    if damper.is_told and mounting.is_told:
        return "both"
    return "unclear" if damper.is_told or mounting.is_told else "neither"


def _step_seen(first: Waves, second: Waves, step_deg: float) -> StepSeen:
    orders = [k for k in range(2, first.value_mm.size + 1) if _is_told(first, k) or _is_told(second, k)]
    if not orders:
        return StepSeen(agrees=True, tells=False, tells_direction=False)
    bound = chi2_quantile(1 - CHANCE, 2 * len(orders))
    stood = _misfit(first, second, 0.0, orders) <= bound
    if _misfit(first, second, step_deg, orders) > bound:
        return StepSeen(False, False, False, stood, _others(first, second, orders, bound))
    both_ways = not stood and _misfit(first, second, -step_deg, orders) > bound
    others = _others(first, second, orders, bound)
    return StepSeen(
        True,
        not stood,
        both_ways,
        others_deg=tuple(one for one in others if _apart(one, step_deg) > NEAR_DEG),
    )


def _apart(one_deg: float, other_deg: float) -> float:
    return abs((one_deg - other_deg + 180.0) % 360.0 - 180.0)


def _is_told(one: Waves, order: int) -> bool:
    return _part(complex(one.value_mm[order - 1]), one.covariance[order - 1]).is_told


def _misfit(first: Waves, second: Waves, step_deg: float, orders: Sequence[int]) -> float:
    """How far apart the higher waves are once the step is undone: chi-square, two degrees of freedom each."""
    total = 0.0
    for k in orders:
        back = _turned(-k * step_deg)
        rest = second.value_mm[k - 1] * back - first.value_mm[k - 1]
        pair = np.array([rest.real, rest.imag])
        covariance = first.covariance[k - 1] + _through(back, second.covariance[k - 1])
        total += float(pair @ np.linalg.solve(covariance, pair))
    return total


def _others(first: Waves, second: Waves, orders: Sequence[int], bound: float) -> tuple[float, ...]:
    """Whole degrees at which the higher waves fit best, of each spell in which they do; three at the most."""
    misfit = np.array([_misfit(first, second, float(step), orders) for step in range(360)])
    least = [
        step
        for step in range(360)
        if misfit[step] <= bound and misfit[step - 1] >= misfit[step] < misfit[(step + 1) % 360]
    ]
    best = sorted(least, key=lambda step: float(misfit[step]))[:3]
    return tuple(sorted(float(step) for step in best))
