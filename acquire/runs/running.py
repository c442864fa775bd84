"""What may run at a bay, one at a time: a sweep, or a repeatability test."""

from __future__ import annotations

from acquire.journal.events import SweepBegun
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


def name_of(run: Running) -> str:
    """As a person calls it."""
    return "repeatability test" if isinstance(run, RunningLifts) else f"{run.begun.check} sweep"
