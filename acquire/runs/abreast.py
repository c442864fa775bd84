"""All that runs at a bay: one thing, or turns of the crank under several gauges side by side."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.journal.events import EndReason, Event
from acquire.journal.sweeps import concerns
from acquire.runs.running import Running
from contract.terms import SweptName


class Abreast:
    """In the order in which they were begun: the first is what a display shows that knows of one only."""

    def __init__(self) -> None:
        self._runs: list[Running] = []

    def __iter__(self) -> Iterator[Running]:
        return iter(self._runs)

    def __bool__(self) -> bool:
        return bool(self._runs)

    @property
    def first(self) -> Running | None:
        """The one that was begun first."""
        return self._runs[0] if self._runs else None

    @property
    def gauges(self) -> set[str]:
        """Those that give values; not the encoder."""
        return {run.gauge for run in self._runs}

    def of(self, check: SweptName | None) -> list[Running]:
        """Those of a check, all of them for None."""
        return [run for run in self._runs if check in (None, run.begun.check)]

    def by_gauge(self, gauge: str) -> Running | None:
        """The one that this gauge reads for."""
        return next((run for run in self._runs if run.gauge == gauge), None)

    def begin(self, run: Running) -> None:
        """One more."""
        self._runs.append(run)

    def end(self, sweep: int) -> Running | None:
        """The one that began with this seq (0: the only one) runs no more."""
        found = next((run for run in self._runs if sweep in (0, run.begun.seq)), None)
        if found is not None:
            self._runs.remove(found)
        return found

    def hear(self, event: Event) -> None:
        """An event, for each that it concerns."""
        for run in self._runs:
            if run.begun.inspection == event.inspection and concerns(run.begun, event):
                run.hear(event)

    def using(self, gauge: str) -> list[Running]:
        """Those whose values or angles come from this gauge."""
        return [run for run in self._runs if gauge in (run.gauge, run.encoder)]

    def over(self) -> tuple[Running, EndReason] | None:
        """One that is over by itself. What two gauges read of one face is over once both have enough."""
        for run in self._runs:
            reason = run.end
            if reason is not None and all(other.end for other in self._runs if _is_pair(run, other)):
                return run, reason
        return None

    @property
    def to_bar_udeg(self) -> int | None:
        """How far to bar yet until all are over by themselves; None where one of them has no such end."""
        left = [run.to_bar_udeg for run in self._runs]
        found = [one for one in left if one is not None]
        return max(found) if found and len(found) == len(left) else None


def names_of(runs: Abreast) -> str:
    """What runs, as a person calls it."""
    return " and the ".join(dict.fromkeys(run.name for run in runs))


def are(runs: Abreast) -> str:
    """The verb that belongs to it."""
    return "are" if len({run.name for run in runs}) > 1 else "is"


def _is_pair(one: Running, other: Running) -> bool:
    """Whether two gauges read one face for one check, half a turn apart."""
    return other.begun.across == one.gauge or one.begun.across == other.gauge
