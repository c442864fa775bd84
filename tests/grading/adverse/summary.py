"""Graded days added up per regime, and what they are held to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.grading.adverse.catalogue import CATALOGUE
from tests.grading.adverse.day import LIMIT_MM
from tests.grading.adverse.regime import Regime
from tests.grading.adverse.study import Graded

KEPT_MAX, KEPT_UNSEEN_MAX, REPLACED_MAX, COVERED_MIN = 0.01, 0.05, 0.03, 0.93
# A share of a small sample may miss its aim by this many standard deviations of chance.
SIGMAS = 3.0


@dataclass(frozen=True, slots=True)
class Count:
    """So many of so many."""

    hits: int
    of: int

    @property
    def share(self) -> float:
        """As a share; NaN of none."""
        return self.hits / self.of if self.of else float("nan")

    def above(self, most: float) -> bool:
        """More than chance explains were this share the truth: the binomial's mean and three sigma."""
        return self.hits > most * self.of + SIGMAS * math.sqrt(self.of * most * (1 - most))

    def __str__(self) -> str:
        return f"{100 * self.share:.1f} %" if self.of else "-"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table, lengths in um, NaN where nothing was valid. kept, replaced: wrongly, of those
    whose truth is on that side."""

    name: str
    sweeps: int
    invalid: Count
    unclear: Count
    within: Count
    over: Count
    covered: Count
    median_u: float
    error_95: float
    kept: Count
    replaced: Count
    median_ms: float


def row(name: str, graded: Sequence[Graded]) -> Row:
    """The figures of these days; there must be one."""

    def outcome(which: str) -> Count:
        return Count(sum(g.outcome == which for g in graded), len(graded))

    pairs = [
        (1000 * abs(g.estimate_mm - g.truth_mm), 1000 * g.u_mm)
        for g in graded
        if g.estimate_mm is not None and g.u_mm is not None
    ]
    return Row(
        name,
        len(graded),
        outcome("invalid"),
        outcome("unclear"),
        outcome("within"),
        outcome("over"),
        Count(sum(error <= u for error, u in pairs), len(pairs)),
        float(np.median([u for _, u in pairs])) if pairs else float("nan"),
        float(np.quantile([error for error, _ in pairs], 0.95)) if pairs else float("nan"),
        Count(sum(g.wrongly_kept for g in graded), sum(g.truth_mm > LIMIT_MM for g in graded)),
        Count(sum(g.wrongly_replaced for g in graded), sum(g.truth_mm <= LIMIT_MM for g in graded)),
        float(np.median([g.ms for g in graded])),
    )


def unmet(regime: Regime, found: Row) -> list[str]:
    """The aims that a regime misses by more than chance, one sentence each."""
    kept_max = KEPT_MAX if regime.can_be_seen else KEPT_UNSEEN_MAX
    replaced_max, covered_min = REPLACED_MAX, COVERED_MIN
    if regime.short is not None:
        kept_max = max(kept_max, regime.short.kept_max or 0.0)
        replaced_max = max(replaced_max, regime.short.replaced_max or 0.0)
        covered_min = min(covered_min, regime.short.covered_min or 1.0)
    missed = []
    if found.kept.above(kept_max):
        missed.append(f"wrongly kept {found.kept}, at most {100 * kept_max:g} % is asked")
    if found.replaced.above(replaced_max):
        missed.append(f"wrongly replaced {found.replaced}, at most {100 * replaced_max:g} % is asked")
    lost = Count(found.covered.of - found.covered.hits, found.covered.of)
    if regime.covers and lost.above(1 - covered_min):
        missed.append(f"coverage {found.covered}, at least {100 * covered_min:g} % is asked")
    if regime.invalid_max is not None and found.invalid.above(regime.invalid_max):
        missed.append(f"invalid {found.invalid}, at most {100 * regime.invalid_max:g} % is asked")
    return [f"{regime.name}: {each}" for each in missed]


def summary(graded: Sequence[Graded]) -> tuple[list[Row], list[str]]:
    """A row per regime, one per group and one of all that can be seen; and the aims that are missed."""
    rows, missed = [], []
    for regime in CATALOGUE:
        if mine := [g for g in graded if g.regime == regime.name]:
            found = row(regime.name, mine)
            rows.append(found)
            missed += unmet(regime, found)
    groups = {r.name: r.group for r in CATALOGUE}
    seen = {r.name for r in CATALOGUE if r.can_be_seen}
    parts = {
        **{f"= {p}": [g for g in graded if groups[g.regime] == p] for p in dict.fromkeys(groups.values())},
        "= all that can be seen": [g for g in graded if g.regime in seen],
        "= all that cannot": [g for g in graded if g.regime not in seen],
    }
    return [*rows, *(row(name, part) for name, part in parts.items() if part)], missed


def table(rows: Sequence[Row]) -> str:
    """As text, lengths in um; shares in per cent."""
    head = (
        f"{'':34}{'sweeps':>7}{'invalid':>9}{'unclear':>9}{'within':>9}{'over':>9}{'covered':>9}"
        f"{'median U':>10}{'95 % err':>10}{'wr. kept':>10}{'wr. repl.':>10}{'ms':>6}"
    )
    lines = [
        f"{r.name:34}{r.sweeps:7d}{r.invalid!s:>9}{r.unclear!s:>9}{r.within!s:>9}{r.over!s:>9}"
        f"{r.covered!s:>9}{r.median_u:10.1f}{r.error_95:10.1f}{r.kept!s:>10}{r.replaced!s:>10}"
        f"{r.median_ms:6.0f}"
        for r in rows
    ]
    return "\n".join([head, *lines])
