"""What a bay was last heard to say, at one moment: all that a page is made of, beside the place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from contract.kinds import KINDS
from contract.lengths import UNITS, LengthUnit
from contract.live import AskedPart, Live, TimerPart
from contract.methods import MethodMessage
from contract.result import Check, Result
from contract.states import GaugeStateMessage
from display.words import ENGLISH, Words

GRADING_MAX_S = 30.0
"""Seconds after which it is said that a sweep's result has not come. What the result held before is not shown
in its place: it is of another sweep."""


@dataclass(frozen=True, slots=True)
class Ended:
    """The sweep or test that ended last: of what, why, by whom where a person ended it, and the revision of
    the result then; None where there was none yet."""

    check: str
    reason: str
    operator: str | None
    revision: int | None


class PictureKept(Protocol):
    """A picture in the bay's folder of photos."""

    @property
    def name(self) -> str:
        """There."""

    def drop(self) -> None:
        """Nothing names it: take it out again."""


@dataclass(frozen=True, slots=True)
class View:
    """bay: its name. method: which is in force, where an office hands them out. away: why nothing is heard of
    it now; None while it is there. live_s, ended_s: how long ago live was said, and something ended.
    ended_by: who closed or abandoned the inspection. asking: the command that is not answered yet, since
    asking_s. operator: who uses this screen. keep: puts a picture into the bay's folder; None where that
    folder is not this machine's."""

    bay: str
    live: Live | None = None
    result: Result | None = None
    gauges: Mapping[str, GaugeStateMessage] = field(default_factory=dict)
    method: MethodMessage | None = None
    warnings: tuple[str, ...] = ()
    away: str | None = None
    live_s: float = 0.0
    ended: Ended | None = None
    ended_s: float = 0.0
    ended_by: str | None = None
    asking: str | None = None
    asking_s: float = 0.0
    operator: str = ""
    unit: LengthUnit = UNITS["mm"]
    words: Words = ENGLISH
    keep: Callable[[Path], PictureKept] | None = None

    @property
    def now(self) -> Live:
        """What live says; nothing runs where it has not been heard."""
        return self.live or Live()

    @property
    def is_grading(self) -> bool:
        """Whether the result does not hold yet what ended last."""
        result, ended = self.result, self.ended
        if ended is None or ended.reason == "cancelled" or self.now.check is not None:
            return False
        if self.ended_s > GRADING_MAX_S and ended.check == "lifts":  # which no result need tell of
            return False
        return result is None or result.revision == ended.revision

    @property
    def grading(self) -> str | None:
        """The check of which the result does not hold yet what ended last."""
        return self.ended.check if self.ended is not None and self.is_grading else None

    @property
    def is_deaf(self) -> bool:
        """Whether a gauge of what runs is known not to be connected: its own, one beside it, or the encoder
        that tells its angles."""
        live = self.now
        read = (live.gauge, *(beside.gauge for beside in live.beside))
        return any(
            state.state != "connected"
            and (gauge in read or (live.angle_source == "encoder" and state.measures == "angle"))
            for gauge, state in self.gauges.items()
        )

    def result_of(self, inspection: str | None) -> Result | None:
        """The result, where it is of this inspection."""
        return self.result if self.result is not None and self.result.inspection == inspection else None

    def timer(self, check: str, item: str) -> TimerPart | None:
        """An item's dwell, as it is by now."""
        for timer in self.now.timers:
            if (timer.check, timer.item) == (check, item):
                more_s = 0 if timer.ended or self.away else int(self.live_s)
                return timer.model_copy(update={"elapsed_s": timer.elapsed_s + more_s})
        return None

    def asked(self, check: str, item: str) -> AskedPart | None:
        """The figure that an item is recorded with; None where it has none."""
        found = (one for one in self.now.asked if (one.check, one.item) == (check, item))
        return next(found, None)

    @property
    def is_timing(self) -> bool:
        """Whether a dwell is under way."""
        return any(not timer.ended for timer in self.now.timers)


DONE = ("within", "good")
"""Outcomes of a check after which the walk goes on by itself."""


def checks_of(result: Result) -> dict[str, Check]:
    """Its checks in the order of the walk."""
    return result.checks.by_name()


def next_check(result: Result, after: str | None = None) -> str | None:
    """The first check to be done that is not, of all or of those after one; None where they are."""
    checks = list(checks_of(result).items())
    start = 1 + next((n for n, (name, _) in enumerate(checks) if name == after), -1)
    return next((name for name, check in checks[start:] if name in KINDS and check.outcome not in DONE), None)
