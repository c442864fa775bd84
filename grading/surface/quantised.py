"""Readings of a coarse display are intervals: the true value lies within half a step of what it shows.

Where the noise is well under the step, least squares on the shown values is overconfident (its errors
follow the surface) and wasteful (the angles at which the display changes are known well). Here the
exact likelihood of the intervals is brought into Gaussian form by expectation propagation (Minka 2001;
Rasmussen and Williams 2006, Gaussian processes for machine learning, 3.6): each group of readings
becomes a pseudo-observation with a mean and a weight.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grading.evidence import F64

# Coefficients of the Chebyshev fit of erfc(z) exp(z^2) in 1 / (1 + z / 2), relative error 1.2e-7. That is
# scipy.special.erfcx to as many digits as count here; scipy's takes twice as long, and loading it as long as
# grading a sweep, in every process that grades.
_MILLS = (
    -1.26551223,
    1.00002368,
    0.37409196,
    0.09678418,
    -0.18628806,
    0.27886807,
    -1.13520398,
    1.48851587,
    -0.82215223,
    0.17087277,
)
# Standard deviation expected of a gauge's noise, in mm, and how well that is known (of its log):
# common practice, no source. It matters only where the display hides the noise altogether.
NOISE_MM = 0.0015
NOISE_LOG_SD = 0.8
NOISE_RANGE_MM = (0.00005, 0.05)
# Share of each step taken: sites that move at once may swing against each other.
DAMPING = 0.7


def mills(x: F64) -> F64:
    """Upper tail of the standard normal distribution over its density, for x >= 0."""
    t = 1.0 / (1.0 + x * (0.5 / np.sqrt(2.0)))
    power = np.full_like(t, _MILLS[-1])
    for c in _MILLS[-2::-1]:
        power *= t
        power += c
    return np.asarray(np.sqrt(np.pi / 2) * t * np.exp(power))


def interval_moments(low: F64, high: F64) -> tuple[F64, F64, F64]:
    """For a standard normal variable and low < high, shape (n,): log of the chance to lie between, the
    derivative g of that log by the variable's mean, and minus its second derivative, 0 < h <= 1."""
    flip = low + high < 0
    # Eight standard deviations away an end no longer matters.
    a, b = np.maximum(np.where(flip, -high, low), -8.0), np.where(flip, -low, high)
    # Now b > 0 and |a| <= b. Everything is in units of the density at a's distance from zero.
    inside = np.abs(a)
    ratio = np.exp(-0.5 * (b - inside) * (b + inside))
    tail_a, tail_b = mills(inside), mills(b)
    top = np.exp(0.5 * np.minimum(inside, 8.0) ** 2) * np.sqrt(2 * np.pi)
    scaled = np.where(a < 0, top - tail_a - ratio * tail_b, tail_a - ratio * tail_b)
    scaled = np.maximum(scaled, 1e-12)
    g = (1.0 - ratio) / scaled
    h = np.clip(g * g + (b * ratio - a) / scaled, 1e-9, 1.0)
    log_chance = np.log(scaled) - 0.5 * inside**2 - 0.5 * np.log(2 * np.pi)
    return log_chance, np.where(flip, -g, g), h


@dataclass(frozen=True, slots=True)
class Sites:
    """Pseudo-observations: weight (1/mm^2, per reading of the group) and value_mm, shape (g,);
    noise_mm: the noise that explains the intervals best."""

    weight: F64
    value_mm: F64
    noise_mm: float


def propagate(
    columns: F64,
    prior: F64,
    value_mm: F64,
    copies: F64,
    extra: F64,
    step_mm: float,
    noise_mm: float,
    *,
    rounds: int = 12,
) -> Sites:
    """Sites of readings known to half a step. columns (g, p), prior standard deviations (p,), value_mm
    and copies (how many equal readings) (g,); extra: variance beside the noise's own (g,), in mm^2;
    noise_mm: where the search for the noise begins."""
    used = prior > 0
    x = columns[:, used] * prior[used]
    low, high = value_mm - step_mm / 2, value_mm + step_mm / 2
    weight = 1.0 / (noise_mm**2 + extra + step_mm**2 / 12)
    shift = weight * value_mm
    noise = noise_mm
    for _ in range(rounds):
        system = x.T @ (x * (copies * weight)[:, None])
        system[np.diag_indices_from(system)] += 1.0
        inverse = np.linalg.inv(system)
        spread = x @ inverse
        mean = spread @ (x.T @ (copies * shift))
        variance = np.maximum(np.einsum("gp,gp->g", spread, x), 1e-14)
        left = np.maximum(1.0 / variance - weight, 0.02 / variance)
        cavity = 1.0 / left
        centre = (mean / variance - shift) / left
        noise = _better_noise(low, high, centre, cavity + extra, copies, noise)
        scale = np.sqrt(noise**2 + cavity + extra)
        _, g, h = interval_moments((low - centre) / scale, (high - centre) / scale)
        g, h = g / scale, h / scale**2
        new = h / np.maximum(1.0 - cavity * h, 1e-6)
        target = new * (centre + g / h)
        weight = weight + DAMPING * (new - weight)
        shift = shift + DAMPING * (target - shift)
    weight = np.maximum(weight, 1e-6)
    return Sites(weight, shift / weight, noise)


def _better_noise(low: F64, high: F64, centre: F64, cavity: F64, copies: F64, noise: float) -> float:
    """One guarded Newton step of the evidence in the logarithm of the noise."""
    step = 0.15
    logs = np.log(noise) + np.array([-step, 0.0, step])
    values = []
    for at in logs:
        scale = np.sqrt(np.exp(2 * at) + cavity)
        chance, _, _ = interval_moments((low - centre) / scale, (high - centre) / scale)
        values.append(float(copies @ chance) - 0.5 * ((at - np.log(NOISE_MM)) / NOISE_LOG_SD) ** 2)
    slope = (values[2] - values[0]) / (2 * step)
    bend = (values[2] - 2 * values[1] + values[0]) / step**2
    move = slope / -bend if bend < -1e-9 else np.sign(slope) * 0.4
    return float(np.clip(np.exp(logs[1] + np.clip(move, -0.4, 0.4)), *NOISE_RANGE_MM))
