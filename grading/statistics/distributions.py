"""Quantiles of Student's t and chi-square, and the normal distribution both ways, arguments checked.

Arguments are pure numbers. Degrees of freedom are positive and need not be whole. Each function that
takes a probability raises ValueError outside 0 < p < 1. The normal distribution is the standard library's;
scipy is loaded by the first call that needs it, as loading it takes longer than all else that starts up.
"""

from __future__ import annotations

import math
from statistics import NormalDist

_STANDARD = NormalDist()


def normal_cdf(z: float) -> float:
    """Standard normal distribution function (JCGM 106:2012, 7.2.2: Phi)."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_quantile(p: float) -> float:
    """Standard normal quantile: normal_cdf(normal_quantile(p)) = p."""
    _check_probability(p)
    return _STANDARD.inv_cdf(p)


def t_quantile(p: float, nu: float) -> float:
    """Quantile of Student's t; t_quantile((1 + P) / 2, nu) is t_P(nu) of JCGM 100:2008, table G.2.

    nu may be infinite: that is the normal distribution.
    """
    from scipy.special import stdtrit

    _check_probability(p)
    _check_freedom(nu)
    return normal_quantile(p) if math.isinf(nu) else float(stdtrit(nu, p))


def chi2_quantile(p: float, nu: float) -> float:
    """Chi-square quantile with nu degrees of freedom, a count of readings: exact up to 100 000 of them."""
    # gammaincinv and not chdtri: that takes the upper tail, which has no digits left for a small p.
    from scipy.special import gammaincinv

    _check_probability(p)
    _check_freedom(nu)
    if math.isinf(nu):
        raise ValueError("degrees of freedom of chi-square must be finite")
    return 2.0 * float(gammaincinv(0.5 * nu, p))


def _check_probability(p: float) -> None:
    if not 0.0 < p < 1.0:
        raise ValueError(f"a probability between 0 and 1 is needed, found {p}")


def _check_freedom(nu: float) -> None:
    if not nu > 0.0:
        raise ValueError(f"degrees of freedom must be positive, found {nu}")
