"""What may run at a bay, one at a time: a sweep, or a repeatability test."""

from __future__ import annotations

from acquire.events import SweepBegun
from acquire.lifts import RunningLifts
from acquire.sweep import RunningSweep

Running = RunningSweep | RunningLifts


def started(begun: SweepBegun, still_steps: float) -> Running:
    """What begins with this event. still_steps: see `RunningSweep`."""
    return RunningLifts(begun) if begun.check == "lifts" else RunningSweep(begun, still_steps)


def name_of(run: Running) -> str:
    """As a person calls it."""
    return "repeatability test" if isinstance(run, RunningLifts) else f"{run.begun.check} sweep"
