"""Risks of a decision: how often a part is kept that should go, and the other way round.

Specific risks, for a part whose true figure is known (JCGM 106:2012, 8), and global ones, over all
parts that a shop meets (JCGM 106:2012, 9). Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from grading.decision.decision import Decided, Measured, Rule, after_looks, decide
from grading.evidence import F64
from grading.gauge.budget import resolution_u
from grading.statistics.distributions import normal_cdf

# Gauss-Legendre points per panel of a prior; with PANEL_SDS wide panels the integrand is as good as
# a polynomial of low order, and what is left is rounding.
POINTS = 24
# Width of a panel and reach of a normal prior, in its standard deviations; beyond lies 2e-17.
PANEL_SDS, REACH_SDS = 0.5, 8.5


@dataclass(frozen=True, slots=True)
class ErrorModel:
    """How a measured figure errs: a normal part plus, independent of it, a rectangular part.

    u_random_mm: standard uncertainty of the normal part (noise, resolution, repeatability).
    half_width_mm: bound of the rectangular part, the gauge's span error. Not both zero.
    """

    u_random_mm: float
    half_width_mm: float = 0.0

    def __post_init__(self) -> None:
        parts = (self.u_random_mm, self.half_width_mm)
        if min(parts) < 0.0 or not all(map(math.isfinite, parts)) or sum(parts) == 0.0:
            raise ValueError("an error model needs a part above zero and none below it")

    @property
    def u_mm(self) -> float:
        """Combined standard uncertainty (JCGM 100:2008, 5.1.2 and 4.3.7)."""
        return math.hypot(self.u_random_mm, self.half_width_mm / math.sqrt(3.0))

    def cdf(self, error_mm: float) -> float:
        """Probability that the figure reads at most this much above the truth.

        The distribution functions of a normal and a rectangular variable, convolved: the normal one
        averaged over the rectangle, which has the antiderivative t Phi(t/u) + u phi(t/u).
        """
        u, a = self.u_random_mm, self.half_width_mm
        if a <= 1e-5 * u:
            return normal_cdf(error_mm / u)
        if u <= 1e-9 * a:
            return min(1.0, max(0.0, 0.5 * (error_mm / a + 1.0)))
        if error_mm > 0.0:  # the lower half is the accurate one
            return 1.0 - self.cdf(-error_mm)
        low, high = (error_mm - a) / u, (error_mm + a) / u
        return min(1.0, max(0.0, u * (_antiderivative(high) - _antiderivative(low)) / (2.0 * a)))

    def quantile(self, p: float) -> float:
        """Error that is not exceeded with probability p, mm; ValueError outside 0 < p < 1."""
        if not 0.0 < p < 1.0:
            raise ValueError(f"a probability between 0 and 1 is needed, found {p}")
        reach = self.half_width_mm + 40.0 * self.u_random_mm
        low, high = -reach, reach
        for _ in range(200):
            middle = 0.5 * (low + high)
            if not low < middle < high:
                break
            low, high = (middle, high) if self.cdf(middle) < p else (low, middle)
        return 0.5 * (low + high)

    def expanded_mm(self, coverage: float = 0.95) -> float:
        """Expanded uncertainty U: half-width of the symmetric coverage interval, mm (6.2.1)."""
        return self.quantile(0.5 * (1.0 + coverage))


def _antiderivative(x: float) -> float:
    return x * normal_cdf(x) + math.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class Chances:
    """Chances of the three outcomes for a part whose true figure is true_mm; they add up to 1."""

    true_mm: float
    within: float
    unclear: float
    over: float


@dataclass(frozen=True, slots=True)
class Zones:
    """Readings up to accept_mm are `within`, from reject_mm on `over`; accept_mm <= reject_mm."""

    accept_mm: float
    reject_mm: float


def decision_zones(errors: ErrorModel, limit_mm: float, rule: Rule, coverage: float = 0.95) -> Zones:
    """Where the outcome changes along the scale of readings (JCGM 106:2012, 8.3).

    Agrees with `grading.decision.decision.decide` for figures that err as `errors` says.
    """
    if rule.probability is not None:
        band = errors.quantile(rule.probability)
    else:
        band = (rule.guard_r or 0.0) * errors.expanded_mm(coverage)
    return Zones(
        limit_mm - (band if rule.guards_acceptance else 0.0),
        limit_mm + (band if rule.guards_rejection else 0.0),
    )


def chances(true_mm: float, errors: ErrorModel, zones: Zones) -> Chances:
    """Chances of each outcome for one true figure (JCGM 106:2012, 8.3.2.3 and 8.3.3)."""
    within = errors.cdf(zones.accept_mm - true_mm)
    over = errors.cdf(true_mm - zones.reject_mm)  # both parts of the error are symmetric
    return Chances(true_mm, within, max(0.0, 1.0 - within - over), over)


@dataclass(frozen=True, slots=True)
class Prior:
    """What true figures a shop meets: points in mm with weights that add up to 1, shapes (n,)."""

    points_mm: F64
    weights: F64


def normal_prior(mean_mm: float, sd_mm: float, breaks_mm: Sequence[float] = ()) -> Prior:
    """A normal prior; sd_mm > 0. breaks_mm: limits at which a risk's integrand jumps."""
    if not 0.0 < sd_mm < math.inf:
        raise ValueError(f"the prior needs a standard deviation above zero, found {sd_mm}")
    reach = REACH_SDS * sd_mm

    def density(x: F64) -> F64:
        bell: F64 = np.exp(-0.5 * ((x - mean_mm) / sd_mm) ** 2) / (sd_mm * math.sqrt(2.0 * math.pi))
        return bell

    return density_prior(density, mean_mm - reach, mean_mm + reach, PANEL_SDS * sd_mm, breaks_mm)


def density_prior(
    density: Callable[[F64], F64],
    low_mm: float,
    high_mm: float,
    panel_mm: float,
    breaks_mm: Sequence[float] = (),
) -> Prior:
    """A prior from any density, shape (n,) to (n,), by Gauss-Legendre panels; scaled to total 1.

    panel_mm: panels are at most this wide; take half the narrower of the density's own scale and
    the standard uncertainty of the measurement.
    """
    if not (low_mm < high_mm and panel_mm > 0.0):
        raise ValueError("a density needs low < high and panels wider than zero")
    edges = np.linspace(low_mm, high_mm, max(2, math.ceil((high_mm - low_mm) / panel_mm) + 1))
    inside = [x for x in breaks_mm if low_mm < x < high_mm]
    edges = np.unique(np.concatenate([edges, inside]))
    nodes, weights = np.polynomial.legendre.leggauss(POINTS)
    half = 0.5 * np.diff(edges)[:, None]
    points = (edges[:-1, None] + half * (nodes + 1.0)).ravel()
    mass = (half * weights).ravel() * density(points)
    return Prior(points, mass / mass.sum())


def records_prior(measured_mm: F64, u_mm: float) -> Prior:
    """A prior from a shop's own measured figures, shape (n,), n >= 10, of standard uncertainty u_mm.

    Records scatter by the parts and by the measurements; each is drawn towards the mean so that the
    variance left is that of the parts alone. ValueError where the records scatter no more than
    their measurements explain.
    """
    if measured_mm.size < 10 or not np.isfinite(measured_mm).all():
        raise ValueError("at least 10 finite figures are needed")
    variance = float(measured_mm.var(ddof=1))
    if variance <= u_mm**2:
        raise ValueError("the records scatter no more than their own uncertainty: they say nothing of parts")
    mean = float(measured_mm.mean())
    points = mean + (measured_mm - mean) * math.sqrt(1.0 - u_mm**2 / variance)
    return Prior(points, np.full(points.size, 1.0 / points.size))


@dataclass(frozen=True, slots=True)
class GlobalRisks:
    """Shares of all parts. nonconforming: truly outside. kept_wrongly: found fit though outside
    (R_C, consumer's risk); not_kept_wrongly: inside though not found fit (R_P, producer's risk), of
    which `rejected_wrongly` are found unfit outright and the rest are unclear. unclear: of all.
    """

    nonconforming: float
    kept_wrongly: float
    not_kept_wrongly: float
    rejected_wrongly: float
    unclear: float


def global_risks(prior: Prior, errors: ErrorModel, zones: Zones, limit_mm: float) -> GlobalRisks:
    """Global risks over a prior (JCGM 106:2012, 9.3 to 9.5)."""
    within = np.array([errors.cdf(zones.accept_mm - t) for t in prior.points_mm.tolist()])
    over = np.array([errors.cdf(t - zones.reject_mm) for t in prior.points_mm.tolist()])
    outside = prior.points_mm > limit_mm
    w = prior.weights
    return GlobalRisks(
        nonconforming=float(w @ outside),
        kept_wrongly=float((w * outside) @ within),
        not_kept_wrongly=float((w * ~outside) @ (1.0 - within)),
        rejected_wrongly=float((w * ~outside) @ over),
        unclear=float(w @ np.maximum(0.0, 1.0 - within - over)),
    )


def simulate(
    true_mm: float,
    errors: ErrorModel,
    limit_mm: float,
    rule: Rule,
    *,
    trials: int,
    seed: int,
    looks: int = 1,
    repeat_share: float | None = None,
    coverage: float = 0.95,
) -> dict[Decided, float]:
    """Shares of outcomes of seeded simulated decisions, each made by `decide` itself.

    looks: how many times an `unclear` part may be measured altogether; repeats are averaged, their
    random parts being independent and the rectangular part common to them. repeat_share: as a method states
    it, so that each look is decided as `after_looks` says; None where every look spends the whole bound.
    """
    rng = np.random.default_rng(seed)
    common = rng.uniform(-1.0, 1.0, trials) * errors.half_width_mm
    noise = rng.normal(0.0, errors.u_random_mm, (looks, trials)).cumsum(axis=0)
    counts: dict[Decided, int] = {"within": 0, "unclear": 0, "over": 0}
    open_ = np.arange(trials)
    for look in range(1, looks + 1):
        model = ErrorModel(errors.u_random_mm / math.sqrt(look), errors.half_width_mm)
        big_u, u = model.expanded_mm(coverage), model.u_mm
        now = rule if repeat_share is None else after_looks(rule, look, repeat_share)
        still: list[int] = []
        for i in open_.tolist():
            y = float(true_mm + common[i] + noise[look - 1, i] / look)
            outcome = decide(Measured(y, big_u, big_u / u, model.cdf(y - limit_mm)), limit_mm, now)
            if outcome == "unclear" and look < looks:
                still.append(i)
            else:
                counts[outcome] += 1
        open_ = np.array(still, dtype=np.int64)
    return {outcome: count / trials for outcome, count in counts.items()}


def gauge_errors(
    resolution_mm: float, mpe_mm: float, repeatability_mm: float = 0.0, repeats: int = 1
) -> ErrorModel:
    """How a run-out or spread errs that is one reading less another, for planning.

    The random part is the display's step (JCGM 100:2008, F.2.2.1) and the repeatability, each twice,
    averaged over `repeats` figures; the rectangular part is the gauge's span error, within +-mpe_mm
    however often it is repeated. A run-out fitted to many readings has a smaller random part.
    """
    if repeats < 1:
        raise ValueError("at least one measurement is made")
    one = math.hypot(resolution_u(resolution_mm), repeatability_mm)
    return ErrorModel(one * math.sqrt(2.0 / repeats), mpe_mm)
