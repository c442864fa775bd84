"""The bench check of thickness: from all its attempts to its outcome and its figures in the result."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from config.method import Decision, Method, ThicknessRules
from grading.decision import Measured, Outcome, decide, repeats_needed
from grading.evidence import GaugeFacts, Thickness
from grading.parts import SEED, attempt_parts, gauge_part, gauge_warnings, measured_figure, rule_of
from grading.result import AttemptPart, BudgetPart, MeasuredOutcome, StationPart, ThicknessCheck
from grading.sentences import decided, more_repeats, rule_name
from grading.thickness import (
    NM_PER_MM,
    Places,
    ThicknessEstimate,
    estimate_thickness,
    name_of,
    sort_places,
)

SETS_MAX = 6
"""Most sets combined, as for sweeps."""
WORSE: tuple[Outcome, ...] = ("within", "unclear", "over")
"""From best to worst, where two figures of one check are decided."""


def judge_thickness(
    attempts: Sequence[Thickness], method: Method, *, on: date | None = None
) -> ThicknessCheck:
    """The bench check of thickness from all its attempts, oldest first.

    Attempts are put together into sets: one that reads every place begins a new set, one that reads
    some adds replicates to the set before it. The latest valid set counts; earlier valid ones whose
    readings agree with it place by place are replicates of it.
    """
    rules = method.thickness
    if not any(attempt.readings for attempt in attempts):
        return ThicknessCheck(outcome="missing", reason="not measured yet", limit_mm=rules.limit_mm)
    sets = _sets(attempts, rules)
    places = [sort_places([r for a in group for r in a.readings], rules) for group in sets]
    faults = [list(found.faults) or _missing(found) for found in places]
    valid = [i for i, found in enumerate(faults) if not found]
    gauge = sets[-1][-1].gauge
    if not valid:
        outcome: MeasuredOutcome = "invalid" if places[-1].faults else "missing"
        return ThicknessCheck(
            outcome=outcome,
            reason="; ".join(faults[-1]),
            limit_mm=rules.limit_mm,
            readings=places[-1].readings,
            warnings=(*places[-1].set_aside, *gauge_warnings(gauge, on)),
            gauge=gauge_part(gauge),
            attempts=attempt_parts(faults, set(), [None] * len(faults)),
        )
    chosen = valid[-1]
    counted, together = {chosen}, places[chosen]
    for i in sorted(valid, reverse=True)[1:SETS_MAX]:
        readings = [r for j in (i, *sorted(counted)) for a in sets[j] for r in a.readings]
        pooled = sort_places(readings, rules)
        if not pooled.faults and len(pooled.set_aside) <= len(together.set_aside):
            counted, together = counted | {i}, pooled
    gauge = _coarsest([attempt.gauge for i in sorted(counted) for attempt in sets[i]])
    warnings = list(together.set_aside)
    if chosen != len(sets) - 1:
        warnings.append(f"a later attempt does not count: {faults[-1][0]}")
    warnings += gauge_warnings(gauge, on)
    listed = attempt_parts(faults, counted, [None] * len(faults))
    return _judged_set(together, len(counted), gauge, method, tuple(warnings), listed)


def _judged_set(
    places: Places,
    sets: int,
    gauge: GaugeFacts,
    method: Method,
    warnings: tuple[str, ...],
    attempts: tuple[AttemptPart, ...] | None,
) -> ThicknessCheck:
    rules, decision = method.thickness, method.decision
    rule = rule_of(decision)
    estimate = estimate_thickness(places, gauge, rules, seed=SEED, coverage=decision.coverage)
    measured = measured_figure(
        estimate.true_spread_mm,
        estimate.u_expanded_mm,
        estimate.u_random_mm,
        estimate.u_systematic_mm,
        estimate.p_over(rules.limit_mm),
    )
    outcome = decide(measured, rules.limit_mm, rule)
    more = repeats_needed(
        measured,
        rules.limit_mm,
        rule,
        u_random_mm=estimate.u_random_mm * sets**0.5,
        u_systematic_mm=estimate.u_systematic_mm,
        done=sets,
    )
    reason = decided("true spread", outcome, measured, rules.limit_mm, decision)
    if outcome == "unclear":
        reason += "; " + more_repeats(more, "set")
    bulge = _bulge(estimate, rules, decision)
    if bulge is not None and WORSE.index(bulge[0]) > WORSE.index(outcome):
        outcome, reason = bulge[0], bulge[2]
    return ThicknessCheck(
        outcome=outcome,
        reason=reason,
        limit_mm=rules.limit_mm,
        spread_mm=estimate.spread_nm / NM_PER_MM,
        true_spread_mm=estimate.true_spread_mm,
        u_expanded_mm=estimate.u_expanded_mm,
        coverage=decision.coverage,
        p_over=measured.p_over,
        rule=rule_name(decision),
        repeats_needed=more or None,
        stations=_stations(places, rules),
        taper_mm=estimate.taper_mm,
        wedge_mm=estimate.wedge_mm,
        wedge_deg=estimate.wedge_deg,
        bulge_mm=bulge[1].y_mm if bulge else None,
        bulge_u_expanded_mm=bulge[1].u_expanded_mm if bulge else None,
        bulge_limit_mm=rules.bulge.limit_mm if rules.bulge else None,
        readings=places.readings,
        budget=tuple(BudgetPart(source=source, u_mm=u) for source, u in estimate.budget),
        warnings=warnings,
        gauge=gauge_part(gauge),
        attempts=attempts,
    )


def _sets(attempts: Sequence[Thickness], rules: ThicknessRules) -> list[list[Thickness]]:
    """The attempts in sets, oldest first; none is empty."""
    sets: list[list[Thickness]] = []
    for attempt in attempts:
        if not attempt.readings:
            continue
        if not sets or not sort_places(attempt.readings, rules).missing:
            sets.append([attempt])
        else:
            sets[-1].append(attempt)
    return sets


def _missing(places: Places) -> list[str]:
    if not places.missing:
        return []
    return ["not measured yet: " + ", ".join(name_of(place) for place in places.missing)]


def _coarsest(gauges: Sequence[GaugeFacts]) -> GaugeFacts:
    """The one to answer for readings of several: that of the largest permissible error, step and scatter."""
    return max(gauges, key=lambda gauge: (gauge.mpe_mm, gauge.resolution_mm, gauge.repeatability_mm or 0.0))


def _stations(places: Places, rules: ThicknessRules) -> tuple[StationPart, ...]:
    parts = []
    for station in rules.stations_deg:
        outer, inner = places.value_nm((station, "outer")), places.value_nm((station, "inner"))
        parts.append(
            StationPart(
                station_deg=station,
                outer_mm=outer / NM_PER_MM,
                inner_mm=inner / NM_PER_MM,
                taper_mm=(outer - inner) / NM_PER_MM,
            )
        )
    return tuple(parts)


def _bulge(
    estimate: ThicknessEstimate, rules: ThicknessRules, decision: Decision
) -> tuple[Outcome, Measured, str] | None:
    """Outcome, figure and sentence of the bulge; None where the method gives no reference."""
    distribution = estimate.bulge
    if distribution is None or rules.bulge is None:
        return None
    y = distribution.median_mm()
    big_u = distribution.expanded_mm(y, decision.coverage)
    limit = rules.bulge.limit_mm
    if limit is None:
        return "within", Measured(y, big_u), ""
    measured = measured_figure(y, big_u, distribution.u_mm, 0.0, distribution.p_over(limit))
    outcome = decide(measured, limit, rule_of(decision))
    return outcome, measured, decided("bulge over the rim", outcome, measured, limit, decision)
