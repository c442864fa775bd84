"""What may run at a bay: a sweep, or a repeatability test. Whoever has one asks it, and not what it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.journal.events import EndReason, SweepBegun, SweepEnded
from acquire.runs.lifts import RunningLifts
from acquire.runs.sweep import RunningSweep
from config.method import Method
from contract.kinds import takes

Running = RunningSweep | RunningLifts


def started(begun: SweepBegun, method: Method) -> Running:
    """What begins with this event, under the method in force."""
    if takes(begun.check) == "lifts":
        return RunningLifts(begun, method.lifts)
    return RunningSweep(begun, method.marks.least_move_steps)


def test_of(run: Running | None, reason: EndReason) -> RunningLifts | None:
    """The repeatability test that ended, where it was one and was not dropped."""
    return run if isinstance(run, RunningLifts) and reason != "cancelled" else None


def ending(run: Running, reason: EndReason, common: Mapping[str, Any]) -> SweepEnded:
    """The event that ends it. common: what events share."""
    backing = run.backing
    return SweepEnded(
        **common, reason=reason, back_udeg=backing.back, back_times=backing.times, sweep=run.begun.seq
    )
