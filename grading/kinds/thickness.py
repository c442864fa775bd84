"""The bench check of thickness: from all its attempts to its outcome and its figures in the result."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from config.method import Decision, Method, ThicknessRules
from contract.gauge import GaugeFacts
from contract.result import AttemptPart, BudgetPart, StationPart, ThicknessCheck
from contract.terms import MeasuredOutcome, Radius
from grading.decision.decision import Decided, Measured, Rule, after_looks, decide, repeats_needed
from grading.decision.sentences import decided, more_repeats, rule_name
from grading.evidence import Thickness, ThicknessReading
from grading.kinds.parts import SEED, attempt_parts, gauge_warnings, measured_figure, rule_of
from grading.kinds.slips import thin_slip
from grading.signs.steps import coarser_step_mm, coarser_warnings
from grading.thickness.alike import all_alike, copies, held, held_said
from grading.thickness.doubt import doubtful
from grading.thickness.gauges import worst_of
from grading.thickness.outvoted import outvoted, outvoted_said, put_right_said
from grading.thickness.presses import lost_faults, press_faults
from grading.thickness.thickness import (
    NM_PER_MM,
    Places,
    ThicknessEstimate,
    estimate_thickness,
    name_of,
    sort_places,
)
from grading.thickness.zero import largest_shift_mm, with_shift, zero_faults, zero_warnings, zeros_of

WORSE: tuple[Decided, ...] = ("within", "unclear", "over")
"""From best to worst, where two figures of one check are decided."""


def judge_thickness(
    attempts: Sequence[Thickness], method: Method, *, on: date | None = None
) -> ThicknessCheck:
    """The bench check of thickness from all its attempts, oldest first.

    Attempts are put together into sets: one that reads every place begins a new set, one that reads
    some adds replicates to the set before it. All valid sets count together, as replicates of each other
    place by place; while a place has no majority the check is `unclear`, with the figures of the latest. A
    set that is not whole, or contradicts itself, makes no figure; what it read that may be over has to be
    outnumbered all the same.
    """
    rules = method.thickness
    if not any(attempt.readings for attempt in attempts):
        return ThicknessCheck(outcome="missing", reason="not measured yet", limit_mm=rules.limit_mm)
    sets = _sets(attempts, rules)
    places = [sort_places(_readings_of([group]), rules) for group in sets]
    faults = [
        list(found.faults)
        or _missing(found)
        or _absurd(found, rules)
        or zero_faults(group, rules) + press_faults(group, rules.press_slack_steps) + lost_faults(group)
        for found, group in zip(places, sets, strict=True)
    ]
    gauge = sets[-1][-1].gauge
    copied = copies([_readings_of([group]) for group in sets], faults, gauge.resolution_mm, rules)
    faults = [copied.get(i, found) for i, found in enumerate(faults)]
    valid = [i for i, found in enumerate(faults) if not found]
    if not valid:
        outcome: MeasuredOutcome = "missing" if places[-1].missing and not places[-1].faults else "invalid"
        return ThicknessCheck(
            outcome=outcome,
            reason="; ".join(faults[-1]),
            limit_mm=rules.limit_mm,
            readings=places[-1].readings,
            warnings=(*places[-1].set_aside, *gauge_warnings(gauge, on)),
            gauge=gauge,
            attempts=attempt_parts(faults, set(), [None] * len(faults)),
        )
    chosen = valid[-1]
    counted, together, against = {chosen}, places[chosen], places[chosen].faults
    if len(valid) > 1:
        pooled = sort_places(_readings_of(sets[i] for i in valid), rules)
        against = pooled.faults
        if not against:
            counted, together = set(valid), pooled
    others = [sets[i] for i, found in enumerate(faults) if found and i not in copied]
    slack = rules.press_slack_steps
    unsettled = _readings_of(one for one in others if not zero_faults(one, rules) + press_faults(one, slack))
    used = [attempt for i in sorted(counted) for attempt in sets[i]]
    gauges = list(dict.fromkeys(gauge for attempt in used for gauge in (attempt.gauge, *attempt.beside)))
    gauge = worst_of(gauges, rules)
    first = (reading for attempt in used for reading in attempt.put_right)
    warnings = [
        *together.set_aside,
        *put_right_said(first, together, rules),
        *zero_warnings(used, rules),
    ]
    if chosen != len(sets) - 1:
        warnings.append(f"a later attempt does not count: {faults[-1][0]}")
    names = ", ".join(sorted({one.id for one in gauges}))
    if "," in names:
        warnings.append(f"readings of {names} count with the worst that is stated of any of them")
    warnings += dict.fromkeys(said for one in gauges for said in gauge_warnings(one, on))
    shown, coarser = _as_shown(gauge, together, rules)
    warnings += coarser
    same, at_nm = held(_readings_of(sets[i] for i in sorted(counted)), shown.resolution_mm, rules)
    warnings += [] if same else all_alike(together)
    listed = attempt_parts(faults, counted, [None] * len(faults))
    shift_mm = largest_shift_mm([sets[i] for i in sorted(counted)])
    shown = with_shift(shown, shift_mm)
    judged = _judged_set(
        together, len(counted), shown, method, tuple(warnings), listed, unsettled, looks=len(valid)
    )
    judged = judged.model_copy(update={"gauge": gauge, "zero_shift_mm": shift_mm})
    if same and judged.outcome == "within":
        again = tuple(map(name_of, same))
        said = {"outcome": "unclear", "reason": held_said(same, at_nm), "read_again": again}
        judged = judged.model_copy(update=said)
    if against:  # one repeat outvotes nothing
        asked = "sets disagree: " + "; ".join(against)
        return judged.model_copy(update={"outcome": "unclear", "reason": asked})
    return judged


def _as_shown(gauge: GaugeFacts, places: Places, rules: ThicknessRules) -> tuple[GaugeFacts, list[str]]:
    """The gauge with the step by which the readings move, where that is the larger; and what to look at."""
    value_nm = np.array([nm for values in places.kept.values() for nm in values], dtype=np.int64)
    step_mm = coarser_step_mm(value_nm, gauge.resolution_mm, rules.coarser)
    if step_mm is None:
        return gauge, []
    shown = replace(gauge, resolution_mm=step_mm)
    return shown, coarser_warnings(gauge, shown)


def _judged_set(
    places: Places,
    sets: int,
    gauge: GaugeFacts,
    method: Method,
    warnings: tuple[str, ...],
    attempts: tuple[AttemptPart, ...] | None,
    unsettled: Sequence[ThicknessReading],
    *,
    looks: int,
) -> ThicknessCheck:
    rules, decision = method.thickness, method.decision
    rule = after_looks(rule_of(decision), looks, decision.repeat_share)
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
        after_looks(rule_of(decision), looks + 1, decision.repeat_share),
        u_random_mm=estimate.u_random_mm * sets**0.5,
        u_systematic_mm=estimate.u_systematic_mm,
        done=sets,
    )
    reason = decided("true spread", outcome, measured, rules.limit_mm, decision, looks=looks)
    if outcome == "unclear" and places.freedom == 0 and gauge.repeatability_mm is None:
        reason += "; read every place once more: how well a reading repeats is only assumed so far"
    elif outcome == "unclear":
        reason += "; " + more_repeats(more, "set")
    bulge = _bulge(estimate, rules, decision, rule, looks)
    if bulge is not None and WORSE.index(bulge[0]) > WORSE.index(outcome):
        outcome, reason = bulge[0], bulge[2]
    again, out = doubtful(places.values_mm(rules), places.counts(rules), rules, rules.stands_out_mm)
    if again and not _over_without(out, places, gauge, method, rule):
        outcome, reason = "unclear", _asked_again(again, places)
    few = outvoted(places, rules, unsettled)
    if few and outcome == "within":
        outcome, again, reason = "unclear", tuple(few), outvoted_said(few, rules)
    return ThicknessCheck(
        outcome=outcome,
        reason=reason,
        read_again=tuple(name_of(place) for place in again) or None,
        repeatability_mm=estimate.repeatability_mm,
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
        gauge=gauge,
        attempts=attempts,
    )


def _sets(attempts: Sequence[Thickness], rules: ThicknessRules) -> list[list[Thickness]]:
    """The attempts in sets, oldest first; none is empty. Where the zero alone was looked at, that is
    after the set before it."""
    sets: list[list[Thickness]] = []
    for attempt in attempts:
        if not attempt.readings:
            if sets and zeros_of(attempt):
                sets[-1].append(attempt)
            continue
        if not sets or not sort_places(attempt.readings, rules).missing:
            sets.append([attempt])
        else:
            sets[-1].append(attempt)
    return sets


def _readings_of(sets: Iterable[Sequence[Thickness]]) -> list[ThicknessReading]:
    return [reading for group in sets for attempt in group for reading in attempt.readings]


def _missing(places: Places) -> list[str]:
    if not places.missing:
        return []
    return ["not measured yet: " + ", ".join(name_of(place) for place in places.missing)]


def _absurd(places: Places, rules: ThicknessRules) -> list[str]:
    """What no casing can be: a decimal point or a sign typed wrong, or another setting of the micrometer."""
    _, out = doubtful(places.values_mm(rules), places.counts(rules), rules, rules.absurd_mm)
    return [
        f"{name_of(place)}, {places.value_nm(place) / NM_PER_MM:.3f} mm, is further than "
        f"{rules.absurd_mm:g} mm from all that its neighbours explain: read it again"
        for place in out
    ] + thin_slip(places, rules)


def _over_without(
    out: tuple[tuple[float, Radius], ...], places: Places, gauge: GaugeFacts, method: Method, rule: Rule
) -> bool:
    """Whether the other places are over the limit by themselves, so that nothing hangs on those."""
    rules = method.thickness
    others = [place for place in rules.order if place not in out]
    if len(others) < 2:
        return False
    estimate = estimate_thickness(
        places, gauge, rules, seed=SEED, coverage=method.decision.coverage, without=out
    )
    measured = measured_figure(
        estimate.true_spread_mm,
        estimate.u_expanded_mm,
        estimate.u_random_mm,
        estimate.u_systematic_mm,
        estimate.p_over(rules.limit_mm),
    )
    return decide(measured, rules.limit_mm, rule) == "over"


def _asked_again(again: tuple[tuple[float, Radius], ...], places: Places) -> str:
    named = ", ".join(f"{name_of(place)} ({places.value_nm(place) / NM_PER_MM:.3f} mm)" for place in again)
    return f"stands out from the other places and was read once: read again {named}"


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
    estimate: ThicknessEstimate, rules: ThicknessRules, decision: Decision, rule: Rule, looks: int
) -> tuple[Decided, Measured, str] | None:
    """Decided, figure and sentence of the bulge; None where the method gives no reference."""
    bounds = estimate.bulge
    if bounds is None or rules.bulge is None:
        return None
    y = bounds.middle_mm()
    big_u = bounds.expanded_mm(y, decision.coverage)
    limit = rules.bulge.limit_mm
    if limit is None:
        return "within", Measured(y, big_u), ""
    measured = measured_figure(y, big_u, big_u / 2.0, 0.0, bounds.p_over(limit))
    outcome = decide(measured, limit, rule)
    said = decided("bulge over the rim", outcome, measured, limit, decision, looks=looks)
    return outcome, measured, said
