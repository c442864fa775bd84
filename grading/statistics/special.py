"""Incomplete gamma and beta functions: what the distributions of statistics are made of.

Textbook series and continued fractions evaluated by the modified Lentz method (NIST Digital Library
of Mathematical Functions, 8.7.1, 8.9.2 and 8.17.22; DiDonato and Morris, ACM Trans. Math. Softw. 18
(1992), 360-373). Their common factors are written with a deviance and Stirling remainders so that
large arguments lose no digits to cancellation.
"""

from __future__ import annotations

import math

# Below this Lentz's method replaces a vanishing term; far under any term that matters.
_TINY = 1e-300
# Relative step at which a series or fraction has settled in binary64.
_EPS = 1e-16
# Terms allowed; the number needed grows like the square root of the larger argument.
_TERMS_MAX = 200_000
# From here on the Stirling remainder's asymptotic series is exact in binary64.
_STIRLING_FROM = 16.0


def _stirling_remainder(a: float) -> float:
    """ln Gamma(a) less its Stirling approximation (a - 1/2) ln a - a + ln(2 pi)/2, for a > 0."""
    if a < _STIRLING_FROM:
        return math.lgamma(a) - ((a - 0.5) * math.log(a) - a + 0.5 * math.log(2.0 * math.pi))
    s = 1.0 / (a * a)
    return (1 / 12 - (1 / 360 - (1 / 1260 - (1 / 1680 - (1 / 1188 - 691 / 360360 * s) * s) * s) * s) * s) / a


def _deviance(a: float, m: float, excess: float) -> float:
    """a ln(a/m) + excess, without cancellation for a near m; both positive, excess = m - a."""
    d = -excess / m
    if abs(d) > 0.1:
        return a * math.log(a / m) + excess
    # (1 + d) ln(1 + d) - d = sum over j >= 2 of (-d)^j / (j (j - 1))
    power, total, j = d * d, 0.0, 2
    while abs(power) > 1e-19 * d * d or j < 4:
        total += power / (j * (j - 1))
        power *= -d
        j += 1
        if power == 0.0:
            break
    return m * total


def incomplete_gamma(a: float, x: float) -> tuple[float, float]:
    """Regularised lower and upper incomplete gamma functions (P, Q), P + Q = 1.

    a > 0, x >= 0, both without a unit. ValueError outside.
    """
    if not (0.0 < a < math.inf) or not x >= 0.0:
        raise ValueError(f"incomplete gamma needs a > 0 and x >= 0, found {a} and {x}")
    if x == 0.0:
        return 0.0, 1.0
    if math.isinf(x):
        return 1.0, 0.0
    # x^a e^-x / Gamma(a + 1)
    front = math.exp(-_deviance(a, x, x - a) - _stirling_remainder(a)) / math.sqrt(2.0 * math.pi * a)
    if x < a + 1.0:
        term = total = 1.0
        for j in range(1, _TERMS_MAX):
            term *= x / (a + j)
            total += term
            if term < total * _EPS:
                break
        lower = min(1.0, front * total)
        return lower, 1.0 - lower
    b = x + 1.0 - a
    c, d = 1.0 / _TINY, 1.0 / b
    h = d
    for j in range(1, _TERMS_MAX):
        an = -j * (j - a)
        b += 2.0
        d = 1.0 / _away_from_zero(an * d + b)
        c = _away_from_zero(b + an / c)
        h *= c * d
        if abs(c * d - 1.0) < 2.0 * _EPS:
            break
    upper = min(1.0, front * a * h)
    return 1.0 - upper, upper


def incomplete_beta(a: float, b: float, x: float, y: float) -> tuple[float, float]:
    """Regularised incomplete beta function I_x(a, b) and its complement, which add up to 1.

    a, b > 0; 0 <= x <= 1 and y = 1 - x, both handed in because a caller often knows the small one
    to full relative accuracy. ValueError outside.
    """
    if not (0.0 < a < math.inf and 0.0 < b < math.inf and 0.0 <= x <= 1.0 and 0.0 <= y <= 1.0):
        raise ValueError(f"incomplete beta needs a, b > 0 and x in 0 to 1, found {a}, {b} and {x}")
    if x == 0.0 or y == 0.0:
        return (0.0, 1.0) if x == 0.0 else (1.0, 0.0)
    n = a + b
    remainder = _stirling_remainder(n) - _stirling_remainder(a) - _stirling_remainder(b)
    # x^a y^b / B(a, b); n x - a = b x - a y, and n y - b is exactly its opposite
    excess = b * x - a * y
    front = math.sqrt(a * b / (2.0 * math.pi * n)) * math.exp(
        remainder - _deviance(a, n * x, excess) - _deviance(b, n * y, -excess)
    )
    if excess <= 0.0:
        lower = min(1.0, front * _beta_fraction(a, b, x, y, -excess))
        return lower, 1.0 - lower
    upper = min(1.0, front * _beta_fraction(b, a, y, x, excess))
    return 1.0 - upper, upper


def _beta_fraction(a: float, b: float, x: float, y: float, gap: float) -> float:
    """The fraction of DiDonato and Morris (1992), the even part of DLMF 8.17.22.

    gap = a - (a + b) x >= 0 is handed in: it is what cancels for large a and b.
    """
    first = (1.0 + gap) / (1.0 + 1.0 / a)
    c = value = first
    d = 0.0
    for n in range(1, _TERMS_MAX):
        w = n * (b - n) * x
        s = a + 2 * n - 1.0
        numerator = (a + n - 1.0) * (a + b + n - 1.0) * w * x / (s * s)
        denominator = n + w / s + (a + n) / (a + 1.0 + 2 * n) * (1.0 + gap + n * (1.0 + y))
        d = 1.0 / _away_from_zero(denominator + numerator * d)
        c = _away_from_zero(denominator + numerator / c)
        value *= c * d
        if abs(c * d - 1.0) < 2.0 * _EPS:
            break
    return 1.0 / value


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
