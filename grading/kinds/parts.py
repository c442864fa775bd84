"""Pieces of the result that every measured check has."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

from config.method import Decision
from contract.gauge import GaugeFacts
from contract.result import AttemptPart
from grading.decision.decision import Measured, Rule

SEED = 20_000
"""Of every Monte Carlo run: any number does, but the same one, so that a result can be made again."""
ATTEMPTS_MAX = 8
"""Latest attempts that a result lists; the journal has them all."""


def rule_of(decision: Decision) -> Rule:
    """The decision rule in the form that `grading.decision.decision` applies."""
    return Rule(decision.rule, decision.guard_r, decision.probability)


def measured_figure(
    y_mm: float, u_expanded_mm: float, u_random_mm: float, u_systematic_mm: float, p_over: float
) -> Measured:
    """A figure as the decision takes it: k is what the two standard parts make of U."""
    u = (u_random_mm**2 + u_systematic_mm**2) ** 0.5
    k = u_expanded_mm / u if u > 0.0 and u_expanded_mm > 0.0 else 2.0
    return Measured(y_mm, u_expanded_mm, k, p_over)


def gauge_warnings(gauge: GaugeFacts, on: date | None) -> list[str]:
    """What is wrong with the gauge's papers on that day, or with its repeatability test."""
    found = []
    due = gauge.calibration_due
    if on is not None and due is not None and date.fromisoformat(due) < on:
        found.append(f"the calibration of {gauge.id} was due on {due}")
    if gauge.repeatability_fault is not None:
        before = "; the one before it does" if gauge.repeatability_mm is not None else ""
        fault = gauge.repeatability_fault
        found.append(f"the latest repeatability test of {gauge.id} does not count{before}: {fault}")
    return found


def attempt_parts(
    faults: Sequence[Sequence[str]], counted: Collection[int], tir_mm: Sequence[float | None]
) -> tuple[AttemptPart, ...] | None:
    """The attempts of a check that was tried more than once, oldest first; None for a single one."""
    if len(faults) < 2:
        return None
    parts = [
        AttemptPart(number=i + 1, counted=i in counted, reason="; ".join(found) or None, tir_mm=tir_mm[i])
        for i, found in enumerate(faults)
    ]
    return tuple(parts[-ATTEMPTS_MAX:])
