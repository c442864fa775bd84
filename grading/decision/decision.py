"""Decisions near a single upper limit: within, over, or unclear (JCGM 106:2012; ISO 14253-1:2017).

All limits here are one-sided and upper: a run-out or a spread is fit when it does not exceed its
limit. Where a guarded rule leaves a gap between proving fit and proving unfit, the outcome is
`unclear`; nothing is ever accepted out of that gap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from grading.statistics.distributions import normal_cdf, normal_quantile

Decided = Literal["within", "over", "unclear"]

# simple-acceptance   within at or below the limit, else over                   JCGM 106, 8.2
# guarded-acceptance  within at or below limit - w, over above the limit        JCGM 106, 8.3.2
# guarded-rejection   within at or below the limit, over at or above limit + w  JCGM 106, 8.3.3
# guarded-both        within at or below limit - w, over at or above limit + w  ISO 14253-1
RuleKind = Literal["simple-acceptance", "guarded-acceptance", "guarded-rejection", "guarded-both"]

# The interval of a rectangular figure is as good as its quantile, and no narrower by more than this.
NEARLY = 0.98

# More repeats than anyone takes at a bay; beyond it the advice is "never".
REPEATS_MAX = 1_000


@dataclass(frozen=True, slots=True)
class Rule:
    """A decision rule as a method states it.

    kind: which of the two answers must be proven. Guarded kinds take exactly one of:
    guard_r: the guard band w = guard_r x U (JCGM 106, 8.3.2.2), guard_r >= 0;
    probability: the proof asked for, 0.5 < probability < 1; `within` then needs
    p_over <= 1 - probability, `over` needs p_over >= probability (JCGM 106, 8.3.2.3).
    Raises ValueError where these do not fit together.
    """

    kind: RuleKind
    guard_r: float | None = None
    probability: float | None = None

    def __post_init__(self) -> None:
        if self.kind == "simple-acceptance":
            if self.guard_r is not None or self.probability is not None:
                raise ValueError("simple-acceptance has no guard band: leave out guard_r and probability")
            return
        if (self.guard_r is None) == (self.probability is None):
            raise ValueError(f"{self.kind} needs exactly one of guard_r and probability")
        if self.guard_r is not None and not 0.0 <= self.guard_r < math.inf:
            raise ValueError(f"guard_r must be zero or more, found {self.guard_r}")
        if self.probability is not None and not 0.5 < self.probability < 1.0:
            raise ValueError(f"probability must lie between 0.5 and 1, found {self.probability}")

    @property
    def guards_acceptance(self) -> bool:
        """Whether `within` must be proven."""
        return self.kind in ("guarded-acceptance", "guarded-both")

    @property
    def guards_rejection(self) -> bool:
        """Whether `over` must be proven."""
        return self.kind in ("guarded-rejection", "guarded-both")


def after_looks(rule: Rule, looks: int, repeat_share: float) -> Rule:
    """The rule at the latest of several looks at one check, so that all of them keep its bound together.

    Measuring again until it is clear gives chance more than one try. The chance of a wrong answer that
    the rule allows is therefore spent in parts: the first look takes 1 - repeat_share of it, the n-th
    repeat_share / 2^(n-1), which add up to all of it however often one looks (spending of error, as in
    group-sequential tests; the bound is Bonferroni's). A guard band grows by the ratio of the normal
    quantiles. looks: 1 or more.
    """
    part = 1.0 - repeat_share if looks <= 1 else repeat_share / 2.0 ** (looks - 1)
    if part <= 0.0:
        part = 1e-9
    if rule.probability is not None:
        return replace(rule, probability=1.0 - part * (1.0 - rule.probability))
    if rule.guard_r is None or rule.guard_r == 0.0:
        return rule
    tail = normal_cdf(-2.0 * rule.guard_r)
    return replace(rule, guard_r=normal_quantile(1.0 - part * tail) / 2.0)


@dataclass(frozen=True, slots=True)
class Measured:
    """What a decision needs of a measured figure; lengths in mm.

    y_mm: best estimate. u_expanded_mm: U >= 0. k: the factor by which U exceeds the standard
    uncertainty. p_over: the probability that the true figure exceeds the limit, by the figure's
    actual distribution; None where only the normal distribution of y and U/k is known.
    """

    y_mm: float
    u_expanded_mm: float
    k: float = 2.0
    p_over: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.y_mm) and 0.0 <= self.u_expanded_mm < math.inf):
            raise ValueError("y must be finite, U finite and not negative")
        if not 0.0 < self.k < math.inf:
            raise ValueError(f"k must be positive, found {self.k}")
        if self.p_over is not None and not 0.0 <= self.p_over <= 1.0:
            raise ValueError(f"p_over must lie in 0 to 1, found {self.p_over}")

    @property
    def u_mm(self) -> float:
        """Standard uncertainty U / k, mm."""
        return self.u_expanded_mm / self.k


def p_over(measured: Measured, limit_mm: float) -> float:
    """Probability that the true figure exceeds the upper limit (JCGM 106:2012, 7.2 and 7.3).

    By the actual distribution where `measured` brings it, else normal with mean y and U/k.
    """
    if measured.p_over is not None:
        return measured.p_over
    if measured.u_mm == 0.0:
        return 1.0 if measured.y_mm > limit_mm else 0.0
    return normal_cdf((measured.y_mm - limit_mm) / measured.u_mm)


def guard_band_mm(rule: Rule, u_expanded_mm: float, k: float = 2.0) -> float:
    """Length w of the guard band, mm (JCGM 106:2012, 8.3.2; ISO 14253-1:2017 for one limit).

    guard_r: w = guard_r x U. probability: w = z x U/k with z the standard normal quantile, which
    is exact for a normal figure only; `decide` uses p_over itself. Zero for simple acceptance.
    """
    if rule.guard_r is not None:
        return rule.guard_r * u_expanded_mm
    if rule.probability is not None:
        return normal_quantile(rule.probability) * u_expanded_mm / k
    return 0.0


def acceptance_limit_mm(rule: Rule, limit_mm: float, u_expanded_mm: float, k: float = 2.0) -> float:
    """Highest estimate that is `within`, mm, for a normal figure (JCGM 106:2012, 8.3.2)."""
    return limit_mm - (guard_band_mm(rule, u_expanded_mm, k) if rule.guards_acceptance else 0.0)


def rejection_limit_mm(rule: Rule, limit_mm: float, u_expanded_mm: float, k: float = 2.0) -> float:
    """Estimate from which on the figure is `over`, mm, for a normal figure (JCGM 106:2012, 8.3.3)."""
    return limit_mm + (guard_band_mm(rule, u_expanded_mm, k) if rule.guards_rejection else 0.0)


def is_open_below(measured: Measured, limit_mm: float, rule: Rule, coverage: float = 0.95) -> bool:
    """Whether the stated interval leaves it open that a figure which is over by its chance is at the limit or
    below. It never does of a normal figure or a rectangular one; of one with a long way up, as of a slip that
    a few readings do not tell from a crest, it may (our own choice: such a figure is not sure enough).
    coverage: of the interval."""
    if rule.probability is None or not rule.guards_rejection:
        return False
    of_normal = normal_quantile(rule.probability) / normal_quantile(0.5 + coverage / 2)
    return measured.y_mm - NEARLY * min(of_normal, 1.0) * measured.u_expanded_mm < limit_mm


def decide(measured: Measured, limit_mm: float, rule: Rule) -> Decided:
    """The outcome of one figure against one upper limit, mm, under a rule.

    JCGM 106:2012, 8.2 (simple), 8.3.2 (guarded acceptance), 8.3.3 (guarded rejection), 7.3 with
    the actual distribution for rules by probability. An estimate exactly on an acceptance limit is
    `within`. A rule by probability without a usable spread (U = 0) is decided by the estimate.
    """
    y, big_u = measured.y_mm, measured.u_expanded_mm
    if rule.probability is not None:
        chance = p_over(measured, limit_mm)
        accept = chance <= 1.0 - rule.probability if rule.guards_acceptance else y <= limit_mm
        reject = chance >= rule.probability if rule.guards_rejection else y > limit_mm
    else:
        accept = y <= acceptance_limit_mm(rule, limit_mm, big_u, measured.k)
        band = rejection_limit_mm(rule, limit_mm, big_u, measured.k)
        reject = y > limit_mm and y >= band
    if accept:
        return "within"
    return "over" if reject else "unclear"


def repeats_needed(
    measured: Measured,
    limit_mm: float,
    rule: Rule,
    *,
    u_random_mm: float,
    u_systematic_mm: float,
    done: int = 1,
) -> int | None:
    """How many more repeats would resolve an `unclear`, if the estimate stayed where it is.

    The mean of n repeats has u(n)^2 = u_systematic^2 + u_random^2 / n (JCGM 100:2008, 4.2.3 for
    the random part; the systematic part is common to all repeats). u_random_mm: standard
    uncertainty of ONE repeat's random part; done: repeats already in the estimate.

    Returns 0 where the outcome is clear already, the number of further repeats otherwise, or None
    where no number up to REPEATS_MAX would do because the systematic part alone is too large. A
    normal figure is assumed for the planning, so the answer is advice, not a promise.
    Raises ValueError for a negative part or done < 1.
    """
    if u_random_mm < 0.0 or u_systematic_mm < 0.0 or done < 1:
        raise ValueError("parts of the uncertainty must not be negative and at least one repeat is done")
    if decide(measured, limit_mm, rule) != "unclear":
        return 0
    below = measured.y_mm <= limit_mm
    guarded = rule.guards_acceptance if below else rule.guards_rejection
    distance = abs(limit_mm - measured.y_mm)
    if not guarded:  # clear by this rule as soon as the figure is normal
        return 1
    factor = guard_band_mm(rule, measured.k, measured.k)  # guard band of a figure with u = 1
    spare = (distance / factor) ** 2 - u_systematic_mm**2
    if spare <= 0.0:
        return None
    total = max(done + 1, math.ceil(u_random_mm**2 / spare * (1.0 - 1e-12)))
    return total - done if total - done <= REPEATS_MAX else None
