"""An inspection as the fold of its events: nothing else goes into a result."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from acquire.bay.dwells import Dwell, Dwells
from acquire.errors import FoldError
from acquire.journal.events import (
    Abandoned,
    AngleStated,
    Closed,
    Corrected,
    Event,
    GaugeAway,
    GaugeBack,
    IndexPassed,
    Mark,
    Observation,
    Opened,
    PhotoTaken,
    Resumed,
    Sample,
    Signed,
    Stopped,
    SweepBegun,
    SweepEnded,
    TimeBegun,
    TimeEnded,
    TypedLift,
    TypedRunout,
    TypedThickness,
    Zeroed,
)
from acquire.journal.sweeps import concerns
from contract.corrections import Change, Correction, changes_between
from contract.header import Header
from contract.kinds import takes
from contract.terms import WORST_FIRST, Decision, State
from contract.wire import rfc3339


@dataclass(slots=True)
class Take:
    """One sweep, or thickness readings typed without one: its beginning and all that came within.
    opposite: what a second gauge read of the same face half a turn away meanwhile. spell: of the daemon, in
    which it began."""

    begun: SweepBegun
    events: list[Event] = field(default_factory=list)
    ended: SweepEnded | None = None
    opposite: Take | None = None
    spell: int = 0


@dataclass(slots=True)
class InspectionState:
    """What the events so far add up to.

    finished: what counts, in the order in which it was finished. running: the sweeps that are not
    ended, side by side. revision: how many events could change the result. mark_udeg: the last known mark,
    unwrapped; None where the next needs its angle. mark_ns: its time. dwells: those timed and not recorded.
    zeros: with the spell of the daemon in which each was told, counted by `spell`. alike: as in Closed.
    decision: the signer's own, until a correction finds worse than it was taken against.
    """

    opened: Opened
    state: State = "open"
    revision: int = 1
    finished: list[Take | Observation] = field(default_factory=list)
    running: list[Take] = field(default_factory=list)
    cancelled: list[Take] = field(default_factory=list)
    mark_udeg: int | None = None
    mark_ns: int = 0
    dwells: Dwells = field(default_factory=dict)
    photos: list[PhotoTaken] = field(default_factory=list)
    zeros: list[tuple[Zeroed, int]] = field(default_factory=list)
    spell: int = 0
    resumed: bool = False
    closed_utc: str | None = None
    alike: dict[str, str] = field(default_factory=dict)
    signed_utc: str | None = None
    signed: Signed | None = None
    decision: Decision | None = None
    corrections: list[Correction] = field(default_factory=list)
    header: Header = field(init=False)
    _anchor_ns: int = 0
    _anchor: datetime = field(default_factory=lambda: datetime.now(UTC))

    def __post_init__(self) -> None:
        self.header = self.opened.header

    @classmethod
    def begin(cls, opened: Opened) -> InspectionState:
        """The state after the first event."""
        state = cls(opened)
        state._set_anchor(opened.time_ns, opened.utc)
        return state

    @property
    def id(self) -> str:
        """The inspection's id."""
        return self.opened.inspection

    def utc_at(self, time_ns: int) -> str:
        """The wall clock (RFC 3339) at a monotonic time since the last anchor: a clock step moves nothing."""
        return rfc3339(self.moment(time_ns))

    def moment(self, time_ns: int) -> datetime:
        """The same, not as text."""
        return self._anchor + timedelta(microseconds=(time_ns - self._anchor_ns) / 1000)

    def apply(self, event: Event) -> bool:
        """Take one more event in; whether it may change the result. FoldError where it cannot follow."""
        before = self.revision
        match event:
            case Sample() if self.running:
                for take in self.running:  # most events are readings, and this is all that `concerns` asks
                    if event.sweep in (0, take.begun.seq):
                        take.events.append(event)
            case Resumed():
                before_it = self.moment(event.time_ns)
                same_boot = event.time_ns >= self._anchor_ns
                self._set_anchor(event.time_ns, event.utc)
                self.mark_udeg, self.resumed = None, True
                self.spell += 1
                for dwell in self.dwells.values():
                    if dwell.ended is None:
                        # What the wall clock gained meanwhile on the other is a step of it, and no dwell.
                        gained = max(timedelta(0), self._anchor - before_it) if same_boot else timedelta(0)
                        dwell.across, dwell.begun = True, dwell.begun + gained
                self._within(event)
            case Closed() if self.state == "open" and not self.running:
                self.state, self.closed_utc = "closed", self.utc_at(event.time_ns)
                self.alike = dict(event.alike)
                self.revision += 1
            case Signed() if self.state == "closed":
                self.state, self.signed, self.decision = "signed", event, event.decision
                self.signed_utc = self.utc_at(event.time_ns)
                self.revision += 1
            case Corrected() if self.state == "signed":
                self._correct(event)
            case Abandoned() if self.state in ("open", "closed") and not self.running:
                self.state = "abandoned"
                self.revision += 1
            case _ if self.state == "open":
                self._measured(event)
            case _:
                raise FoldError(f"event {event.seq} ({event.kind}) cannot follow: {self.id} is {self.state}")
        return self.revision != before

    def _correct(self, event: Corrected) -> None:
        what = changes_between(self.header, event.header)
        if event.verdict:
            what += (Change(key="verdict", was=event.verdict_was, now=event.verdict),)
            if self.decision is not None and lapses(self.decision, event.verdict_was, event.verdict):
                what += (Change(key="decision", was=self.decision),)
                self.decision = None
        self.corrections.append(
            Correction(
                by=event.name, why=event.why, when=event.utc, what=what, remark=event.remark or None
            )
        )  # fmt: skip
        self.header = event.header
        self.revision += 1

    def _measured(self, event: Event) -> None:
        running = self.running
        match event:
            case SweepBegun() if all(_side_by_side(take.begun, event) for take in running):
                self._begin(Take(event, spell=self.spell))
            case SweepEnded() if ended := next((t for t in running if concerns(t.begun, event)), None):
                ended.ended = event
                running.remove(ended)
                if event.reason == "cancelled":
                    self.cancelled.append(ended)
                else:
                    self._finish(ended)
            case Observation():
                for seen in event.items:
                    if seen.time_min is not None:
                        self.dwells.pop((event.check, seen.item), None)
                self._finish(event)
            case TimeBegun():
                self.dwells[event.check, event.item] = Dwell(self.moment(event.time_ns))
            case TimeEnded() if (event.check, event.item) in self.dwells:
                self.dwells[event.check, event.item].ended = self.moment(event.time_ns)
            case PhotoTaken():
                self.photos.append(event)
                self.revision += 1
            case TypedThickness() if not running:
                self._add_thickness(event)
            case Mark():
                self.mark_udeg, self.mark_ns = event.angle_udeg, event.time_ns
                self._within(event)
            case Zeroed():
                before = [self.zero_of(take) for take in self.finished if isinstance(take, Take)]
                self.zeros.append((event, self.spell))
                after = [self.zero_of(take) for take in self.finished if isinstance(take, Take)]
                self.revision += before != after
            case Stopped() if told := self._stopped(event):
                for take in told:
                    take.events.append(event)
                self.revision += 1
            case GaugeAway() | GaugeBack() | IndexPassed() if running:
                self._within(event)
            case TypedRunout() | TypedThickness() | TypedLift() if running:
                self._within(event)
            case _:
                raise FoldError(f"event {event.seq} ({event.kind}) cannot follow in {self.id}")

    def _begin(self, take: Take) -> None:
        across = take.begun.across
        for other in self.running:
            if across and other.begun.gauge.id == across and other.begun.check == take.begun.check:
                other.opposite = take
        self.running.append(take)

    def _within(self, event: Event) -> None:
        """An event of what runs: into each that it concerns."""
        for take in self.running:
            if concerns(take.begun, event):
                take.events.append(event)

    def _stopped(self, event: Stopped) -> list[Take]:
        """The sweep whose stop it is, and those of the same turn: they have presses in common."""
        over = [take for take in self.finished if isinstance(take, Take)]
        meant = next((take for take in over if take.begun.seq == event.sweep), None)
        if event.sweep == 0 and over and over[-1] is self.finished[-1]:
            meant = over[-1]
        if meant is None:
            return []
        pressed = _presses(meant)
        return [take for take in over if take is meant or (pressed and pressed & _presses(take))]

    def zero_of(self, take: Take) -> int | None:
        """Where the timing mark is, of a sweep's encoder, as in AngleStated: as was known when it began; or
        as it was told later, and the encoder was watched all the while."""
        angle, found = take.begun.angle, take.begun.angle.zero
        if angle.position is None:
            return found
        for zeroed, spell in self.zeros:
            is_later = spell == take.spell and zeroed.seq > take.begun.seq
            if is_later and zeroed.gauge == angle.gauge and zeroed.since_ns <= take.begun.time_ns:
                found = zeroed.position - angle.position
        return found

    def typed_into(self, check: str) -> list[Event]:
        """The events of the take that a typed reading of this check would join; empty where there is none."""
        if self.running:
            typed = (take for take in self.running if take.begun.check == check)
            return next((take.events for take in typed), [])
        take = self._last_thickness() if takes(check) == "places" else None
        return [] if take is None else take.events

    def _last_thickness(self) -> Take | None:
        found = (take for take in reversed(self.finished) if isinstance(take, Take))
        return next((take for take in found if takes(take.begun.check) == "places"), None)

    def _add_thickness(self, event: TypedThickness) -> None:
        """Outside a sweep, a reading joins the last thickness check, or begins one."""
        take = self._last_thickness()
        if take is not None:
            take.events.append(event)
            self.revision += 1
            return
        begun = SweepBegun(
            inspection=event.inspection, time_ns=event.time_ns, operator=event.operator, seq=event.seq,
            check="thickness", gauge=event.gauge, angle=AngleStated(source="typed"),
        )  # fmt: skip
        self._finish(Take(begun, [event]))

    def _finish(self, attempt: Take | Observation) -> None:
        self.finished.append(attempt)
        self.revision += 1

    def _set_anchor(self, time_ns: int, utc: str) -> None:
        self._anchor_ns, self._anchor = time_ns, datetime.fromisoformat(utc)


def lapses(decision: Decision, was: str, now: str) -> bool:
    """Whether a decision that was taken against one verdict is none against another, which is worse than
    both."""
    return WORST_FIRST.index(now) < min(WORST_FIRST.index(was), WORST_FIRST.index(decision))


def _side_by_side(one: SweepBegun, other: SweepBegun) -> bool:
    """Whether two sweeps can run at once: turns of the crank under different gauges."""
    return takes(one.check) == takes(other.check) == "turn" and one.gauge.id != other.gauge.id


def fold(events: Iterable[Event], *, revision: int | None = None) -> InspectionState:
    """The state after all events of one inspection in journal order, or once it is at a revision.

    Raises FoldError where they are no inspection's, or it never had that revision.
    """
    state: InspectionState | None = None
    for event in events:
        if state is None:
            if not isinstance(event, Opened):
                raise FoldError(f"event {event.seq} ({event.kind}) cannot be the first of {event.inspection}")
            state = InspectionState.begin(event)
        else:
            state.apply(event)
        if state.revision == revision:
            return state
    if state is None:
        raise FoldError("there are no events: no such inspection")
    if revision is not None:
        raise FoldError(f"{state.id} has no revision {revision}: its latest is {state.revision}")
    return state


def _presses(take: Take) -> set[int]:
    """The marks that were told within a sweep, by their seq."""
    return {event.seq for event in take.events if isinstance(event, Mark)}
