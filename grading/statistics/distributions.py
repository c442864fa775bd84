"""Normal, Student t, chi-square and F distributions: distribution functions and quantiles.

Arguments are pure numbers. Degrees of freedom are positive, need not be whole, and may be
infinite. Each function that takes a probability raises ValueError outside 0 < p < 1.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist

from grading.statistics.special import incomplete_beta, incomplete_gamma

_STANDARD = NormalDist()


def normal_cdf(z: float) -> float:
    """Standard normal distribution function (JCGM 106:2012, 7.2.2: Phi)."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_quantile(p: float) -> float:
    """Standard normal quantile: normal_cdf(normal_quantile(p)) = p."""
    _check_probability(p)
    return _STANDARD.inv_cdf(p)


def t_cdf(t: float, nu: float) -> float:
    """Student's t distribution function with nu degrees of freedom (JCGM 100:2008, G.3)."""
    return _t_tails(t, nu)[0]


def _t_tails(t: float, nu: float) -> tuple[float, float]:
    _check_freedom(nu)
    if math.isinf(nu):
        return normal_cdf(t), normal_cdf(-t)
    if math.isinf(t):
        return (1.0, 0.0) if t > 0.0 else (0.0, 1.0)
    ratio = t * t / nu
    x, y = 1.0 / (1.0 + ratio), ratio / (1.0 + ratio)
    tail = 0.5 * incomplete_beta(0.5 * nu, 0.5, x, y)[0]
    return (1.0 - tail, tail) if t >= 0.0 else (tail, 1.0 - tail)


def t_quantile(p: float, nu: float) -> float:
    """Quantile of Student's t; t_quantile((1 + P) / 2, nu) is t_P(nu) of JCGM 100:2008, table G.2."""
    _check_probability(p)
    _check_freedom(nu)
    if math.isinf(nu):
        return normal_quantile(p)
    if p == 0.5:
        return 0.0
    tail = min(p, 1.0 - p)
    size = _solve(lambda x: tuple(reversed(_t_tails(x, nu))), tail, max(abs(normal_quantile(tail)), 1e-3))
    return -size if p < 0.5 else size


def chi2_cdf(x: float, nu: float) -> float:
    """Chi-square distribution function with nu degrees of freedom; zero for x <= 0."""
    _check_freedom(nu, finite=True)
    return incomplete_gamma(0.5 * nu, 0.5 * x)[0] if x > 0.0 else 0.0


def chi2_quantile(p: float, nu: float) -> float:
    """Chi-square quantile with nu degrees of freedom."""
    _check_probability(p)
    _check_freedom(nu, finite=True)

    def tails(x: float) -> tuple[float, float]:
        return incomplete_gamma(0.5 * nu, 0.5 * x)

    return _positive_quantile(tails, p, nu)


def f_cdf(x: float, nu1: float, nu2: float) -> float:
    """Distribution function of F, nu1 degrees of freedom above and nu2 below; zero for x <= 0."""
    return _f_tails(x, nu1, nu2)[0] if x > 0.0 else 0.0


def _f_tails(x: float, nu1: float, nu2: float) -> tuple[float, float]:
    _check_freedom(nu1, finite=True)
    _check_freedom(nu2)
    if math.isinf(nu2):
        return incomplete_gamma(0.5 * nu1, 0.5 * nu1 * x)
    if math.isinf(x):
        return 1.0, 0.0
    ratio = x * nu1 / nu2
    return incomplete_beta(0.5 * nu1, 0.5 * nu2, ratio / (1.0 + ratio), 1.0 / (1.0 + ratio))


def f_quantile(p: float, nu1: float, nu2: float) -> float:
    """Quantile of F; with nu2 infinite that of chi-square over its degrees of freedom."""
    _check_probability(p)
    _check_freedom(nu1, finite=True)
    _check_freedom(nu2)
    return _positive_quantile(lambda x: _f_tails(x, nu1, nu2), p, 1.0)


def _positive_quantile(tails: Callable[[float], tuple[float, float]], p: float, start: float) -> float:
    if p <= 0.5:
        return _solve(tails, p, start)
    return _solve(lambda x: tuple(reversed(tails(x))), 1.0 - p, start)


def _solve(tails: Callable[[float], tuple[float, ...]], tail: float, start: float) -> float:
    """The positive x at which the first of tails(x) equals `tail`; monotonic in x either way.

    The bracket is found by doubling and then narrowed in ln x against ln of the tail by
    regula falsi with the Illinois correction, so that far tails and wide ranges are no special
    case.
    """
    goal = math.log(tail)

    def miss(s: float) -> float:
        value = tails(math.exp(s))[0]
        return (math.log(value) if value > 0.0 else -800.0) - goal

    low = high = math.log(start)
    at_low = at_high = miss(low)
    rising = miss(low + 0.5) >= at_low if at_low != 0.0 else True
    step = 0.25
    while at_low * at_high > 0.0 and step < 1e4:
        if (at_low < 0.0) == rising:
            low, at_low = high, at_high
            high = min(high + step, 700.0)
            at_high = miss(high)
        else:
            high, at_high = low, at_low
            low = max(low - step, -740.0)
            at_low = miss(low)
        step *= 2.0
    middle = low
    side = 0
    for _ in range(200):
        if at_low == 0.0 or at_high == 0.0 or high - low < 1e-15 * max(1.0, abs(low)):
            break
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        if not low < middle < high:
            middle = 0.5 * (low + high)
        at_middle = miss(middle)
        if at_middle == 0.0:
            return math.exp(middle)
        if (at_middle < 0.0) == (at_low < 0.0):
            low, at_low = middle, at_middle
            at_high *= 0.5 if side == -1 else 1.0
            side = -1
        else:
            high, at_high = middle, at_middle
            at_low *= 0.5 if side == 1 else 1.0
            side = 1
    return math.exp(low if at_low == 0.0 else high if at_high == 0.0 else 0.5 * (low + high))


def _check_probability(p: float) -> None:
    if not 0.0 < p < 1.0:
        raise ValueError(f"a probability between 0 and 1 is needed, found {p}")


def _check_freedom(nu: float, *, finite: bool = False) -> None:
    if not nu > 0.0 or (finite and math.isinf(nu)):
        raise ValueError(f"degrees of freedom must be positive{' and finite' if finite else ''}, found {nu}")
