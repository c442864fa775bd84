"""What each command means: the events that it causes, and what its reply says. Refuses, or does it whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from hashlib import sha256
from typing import Any

from acquire.angle.source import TURN_UDEG
from acquire.bay.asked import Answer, whole
from acquire.bay.ending import Ending
from acquire.bay.heard import Heard
from acquire.bay.inspection import InspectionState
from acquire.bay.known import (
    Known,
    clock_doubted,
    damper_of,
    doubts_of,
    engine_of,
    looser_said,
    misspelt_said,
)
from acquire.bay.looking import Looking
from acquire.bay.placing import by_encoder, stopped
from acquire.bay.recording import Recording
from acquire.bay.stated import Stated
from acquire.clock import Clock
from acquire.errors import CommandRefusedError
from acquire.journal.events import (
    ZERO,
    EndReason,
    Event,
    Mark,
    Opened,
    Place,
    SweepBegun,
    SweepEnded,
)
from acquire.journal.writer import Journal
from acquire.judging import Judging
from acquire.runs.abreast import Abreast, are, names_of
from acquire.runs.running import Running, ending, started
from config.method import Method
from config.profile import GaugeProfile
from config.settings import Settings
from contract import commands
from contract.commands import Command
from contract.header import Header
from contract.kinds import takes
from contract.topics import Topics
from contract.units import NM_PER_MM, UDEG_PER_DEG
from contract.wire import rfc3339

# A mark further off what the encoder has turned is worth a word; our own choice.
ENCODER_OFF_UDEG = 10 * UDEG_PER_DEG
# A crank this near before a mark stands at it: the next one is meant; our own choice.
AT_STOP_DEG = 2.0


class Handlers:
    """The meaning of commands at one bay; keeps nothing between two of them."""

    def __init__(
        self,
        settings: Settings,
        in_force: Callable[[], Method],
        profiles: Mapping[str, GaugeProfile],
        journal: Journal,
        clock: Clock,
        software: str,
        known: Callable[[], Known],
        heard: Heard,
        judging: Judging,
        withheld: Callable[[], str | None] = lambda: None,
    ) -> None:
        self._settings = settings
        self._in_force = in_force
        self._journal = journal
        self._clock = clock
        self._software = software
        self._known = known
        self._withheld = withheld
        self._heard = heard
        self._stated = Stated(settings, in_force, profiles, known, heard)
        self._looking = Looking(in_force, settings.photos.folder)
        self._recording = Recording(in_force, self._stated, self._looking)
        self._finishing = Ending(journal, self._common, self._ending, judging, software)

    def handle(
        self,
        command: Command,
        state: InspectionState | None,
        runs: Abreast,
        pressed_ns: int | None = None,
    ) -> Answer:
        """Events and the reply's own keys. pressed_ns: when a switch was pressed, of which a mark is made.
        Raises CommandRefusedError."""
        match command:
            case commands.Open():
                return self._open(command, state)
            case commands.Begin():
                return self._begin(command, _open_one(state, command), runs)
            case commands.Mark():
                return self._mark(command, _open_one(state, command), runs, pressed_ns)
            case commands.Zero():
                return self._zero(command, _open_one(state, command), runs)
            case commands.End() | commands.Cancel():
                if runs:
                    _open_one(state, command)
                return self._end(command, runs)
            case commands.Record():
                found = _open_one(state, command)
                return self._recording.record(command, self._common(command, found.id), found, runs)
            case commands.Time():
                found = _open_one(state, command)
                return self._looking.time(command, self._common(command, found.id), found)
            case commands.Photo():
                found = _open_one(state, command)
                return self._looking.photo(command, self._common(command, found.id), found)
            case commands.Close() | commands.Abandon():
                return self._finishing.finish(command, state, runs, self._known())
            case commands.Sign():
                return self._finishing.sign(command, state, self._known())
            case commands.Correct():
                return self._finishing.correct(command, state, runs, self._clock.utc(), self._known())
            case commands.Resend():
                return [], {"results": self._journal.count_results(rfc3339(command.since))}
            case _:
                raise AssertionError(command)

    def resend(self, command: commands.Resend, topics: Topics, payload: bytes) -> int:
        """Put the results into the outbox again, with the reply; the seq that must be committed."""
        before, after = topics.inspection_result("\0").split("\0")
        reply = command.id, payload
        return self._journal.resend(rfc3339(command.since), before, after, chain=topics.chain, reply=reply)

    # -- the inspection

    def _open(self, command: commands.Open, state: InspectionState | None) -> Answer:
        if state is not None and state.state == "open":
            text = f"open: inspection {state.id} is open; close or abandon it first"
            raise CommandRefusedError("out-of-order", text)
        if (withheld := self._withheld()) is not None:
            raise CommandRefusedError("no-method", f"open: {withheld}")
        now = self._clock.utc()
        inspection = command.inspection or _name_for(command.id, now)
        if self._journal.has(inspection) or (state is not None and state.id == inspection):
            text = f"open: there is an inspection {inspection} already; choose another id or leave it out"
            raise CommandRefusedError("inspection-exists", text)
        method, known = self._in_force(), self._known()
        engine, damper = engine_of(command, known), damper_of(command, known)
        amiss = misspelt_said(command.engine, command.damper, known)
        amiss = amiss or looser_said(engine, damper, known, method)
        if amiss is not None:
            raise CommandRefusedError("malformed", f"open: {amiss}")
        event = Opened(
            **self._common(command, inspection),
            header=Header(
                site=self._settings.bay.site,
                bay=self._settings.bay.name,
                scope=command.scope,
                engine=engine,
                damper=damper,
                work_order=command.work_order,
                opened=rfc3339(now),
                register_unread=None if known.is_read else True,
            ),
            method=method.as_data(),
            method_sha256=method.sha256(),
            software=self._software,
        )
        doubts = doubts_of(command, known)
        if state is not None:
            doubts += clock_doubted(now, state.header, state.id)
        return [event], {"inspection": inspection, **({"warnings": doubts} if doubts else {})}

    # -- sweeps

    def _begin(
        self,
        command: commands.Begin,
        state: InspectionState,
        runs: Abreast,
    ) -> Answer:
        _refuse_beside(command, runs)
        gauge, opposite = self._stated.gauges(command, self._clock.utc().date())
        common = self._common(command, state.id)
        angle = self._stated.angle(command, common["time_ns"])
        for one in (gauge, opposite):
            if one is not None and angle.gauge == one.id:
                text = f"begin: {one.id} is the encoder; choose a gauge that gives lengths"
                raise CommandRefusedError("wrong-gauge", text)
        radius_mm = command.radius_mm
        if radius_mm is None and command.check == "face" and self._in_force().face.radius_mm is not None:
            radius_mm = Decimal(str(self._in_force().face.radius_mm))
        rules, asks_places = self._in_force().thickness, takes(command.check) == "places"
        zero = [ZERO] if asks_places and rules.zero_mm is not None else []
        places = [Place(station_udeg=round(s * UDEG_PER_DEG), radius=r) for s, r in rules.order]
        event = SweepBegun(
            **common,
            check=command.check,
            gauge=gauge,
            angle=angle,
            places=(*zero, *places, *zero) if asks_places else (),
            radius_nm=None if radius_mm is None else whole(radius_mm, NM_PER_MM),
            zero_at_nm=round(rules.zero_at_mm * NM_PER_MM) if zero else None,
            by_reading=self._stated.by_reading(command),
            turns=command.turns,
        )
        events: list[Event] = [event]
        said = started(event, self._in_force()).said_begun()
        answer: dict[str, Any] = {
            "inspection": state.id, "check": command.check, "gauge": gauge.id, **said,
        }  # fmt: skip
        by_marks = not said and angle.source in ("marks", "dwells")
        if by_marks and (mark_deg := self.next_mark_deg(state)) is not None:
            answer["next_mark_deg"] = mark_deg
        if opposite is not None:
            events.append(replace(event, gauge=opposite, across=gauge.id))
            answer["opposite"] = opposite.id
        return events, answer

    def next_mark_deg(self, state: InspectionState) -> float | None:
        """The mark that the next `mark` without an angle stands for, turns counted; None where it needs its
        angle."""
        if state.resumed and state.mark_udeg is None:
            return None
        return self._next_mark(state.mark_udeg) / UDEG_PER_DEG

    def next_stop_deg(self, angle_deg: float) -> float | None:
        """Of the marks to stop at the one that barring on meets next, of a crank whose angle is known."""
        ahead = [
            (mark - angle_deg - AT_STOP_DEG) % 360.0 + AT_STOP_DEG for mark in self._settings.angle.marks_deg
        ]
        return round((angle_deg + min(ahead)) % 360.0, 6) if ahead else None

    def _mark(
        self,
        command: commands.Mark,
        state: InspectionState,
        runs: Abreast,
        pressed_ns: int | None = None,
    ) -> Answer:
        common = self._common(command, state.id)
        if command.at_s is not None:
            return stopped(command, state, runs, common, self._journal)
        if pressed_ns is not None:
            common["time_ns"] = max(pressed_ns, state.mark_ns)
        if command.angle_deg is None:
            if self._settings.angle.source == "encoder":
                text = "mark: no marks_deg are configured; give angle_deg"
                raise CommandRefusedError("angle-needed", text)
            if state.resumed and state.mark_udeg is None:
                text = "mark: after a restart the crank may have moved; give angle_deg with this mark"
                raise CommandRefusedError("angle-needed", text)
            angle = self._next_mark(state.mark_udeg)
            if not command.sure:
                self._ask_if_turned(common["time_ns"], angle, state, runs)
        else:
            angle = _reached(whole(command.angle_deg, UDEG_PER_DEG), state.mark_udeg)
        answer: dict[str, Any] = {
            "angle_deg": angle / UDEG_PER_DEG,
            "check": runs.first.begun.check if runs.first else None,
        }
        if self._settings.angle.source != "encoder":
            answer["next_mark_deg"] = self._next_mark(angle) / UDEG_PER_DEG
        run = runs.first
        off_udeg = run.off_encoder_udeg(angle) if run is not None else None
        if off_udeg is not None and abs(off_udeg) > ENCODER_OFF_UDEG:
            answer["warning"] = (
                f"this mark is {abs(off_udeg) / UDEG_PER_DEG:.0f} degrees off what the encoder has turned "
                "since the last one; check the encoder's coupling and its counts per turn"
            )
        return [Mark(**common, angle_udeg=angle, sure=command.sure)], answer

    def _zero(self, command: commands.Zero, state: InspectionState, runs: Abreast) -> Answer:
        at_zero = commands.Mark(id=command.id, operator=command.operator, angle_deg=Decimal(0))
        told = by_encoder(self._heard, self._common(command, state.id), runs)
        return told or self._mark(at_zero, state, runs)

    def _ask_if_turned(self, time_ns: int, angle_udeg: int, state: InspectionState, runs: Abreast) -> None:
        """Refuse a mark to which the crank was hardly turned: pressed twice, or while nothing moved."""
        rules, before = self._in_force().marks, state.mark_udeg
        if before is None:
            return
        confirm = "send mark again with sure=true, or with angle_deg; if not, nothing has changed"
        since_s = (time_ns - state.mark_ns) / 1e9
        if since_s < rules.least_s:
            text = (
                f"mark: pressed {since_s:.1f} s after the mark at {_turned(before)} degrees; "
                f"if the crank was turned in that time, {confirm}"
            )
            raise CommandRefusedError("pressed-twice", text)
        still = [run.standing for run in runs if run.standing is not None]
        since = next((one.since_udeg for one in still if one.since_udeg is not None), None)
        # Where several gauges read, one that moves is proof enough.
        if since is None or not all(one.is_still for one in still if one.since_udeg is not None):
            return
        if abs(angle_udeg - since) >= rules.least_turn_deg * UDEG_PER_DEG:
            text = (
                f"mark: the readings have stood still since the mark at {_turned(since)} degrees; "
                f"if the crank was turned, check that the plunger touches and {confirm}"
            )
            raise CommandRefusedError("pressed-twice", text)

    def _next_mark(self, after_udeg: int | None) -> int:
        """The next configured mark in the running direction, unwrapped."""
        marks = [round(mark * UDEG_PER_DEG) for mark in self._settings.angle.marks_deg]
        if after_udeg is None:
            return marks[0]
        if self._settings.angle.source == "dwells":  # a turn's start and end; the stops between are seen
            marks = marks[:1]
        return min(after_udeg + ((mark - after_udeg - 1) % TURN_UDEG + 1) for mark in marks)

    def _end(self, command: commands.End | commands.Cancel, runs: Abreast) -> Answer:
        is_end = isinstance(command, commands.End)
        name = "end" if is_end else "cancel"
        if runs.first is None:
            raise CommandRefusedError("out-of-order", f"{name}: no sweep is running; begin one first")
        meant = runs.of(command.check)
        if not meant:
            running = f"the {names_of(runs)} {are(runs)}"
            text = f"{name}: {command.check} is not running, {running}; name that, or no check"
            raise CommandRefusedError("out-of-order", text)
        events: list[Event] = [
            self._ending(command, run, "ended" if is_end else "cancelled") for run in meant
        ]
        run = meant[0]
        answer: dict[str, Any] = {
            "inspection": run.begun.inspection, "check": run.begun.check, "readings": run.readings,
        }  # fmt: skip
        if len(meant) > 1:
            answer["others"] = [
                {"check": other.begun.check, "gauge": other.gauge, "readings": other.readings}
                for other in meant[1:]
            ]
        return events, answer | (run.said_ended() if is_end else {})

    def _ending(self, command: Command, run: Running, reason: EndReason) -> SweepEnded:
        return ending(run, reason, self._common(command, run.begun.inspection))

    def _common(self, command: Command, inspection: str) -> dict[str, Any]:
        return {
            "inspection": inspection,
            "time_ns": self._clock.monotonic_ns(),
            "operator": command.operator,
        }


def _open_one(state: InspectionState | None, command: Command) -> InspectionState:
    if state is None or state.state != "open":
        name = type(command).__name__.lower()
        raise CommandRefusedError("out-of-order", f"{name}: no inspection is open; open one first")
    if isinstance(command, commands.Of) and command.inspection not in (None, state.id):
        name = type(command).__name__.lower()
        text = f"{name}: it is of {command.inspection}, and {state.id} is open now; do it again for that one"
        raise CommandRefusedError("out-of-order", text)
    return state


def _refuse_beside(command: commands.Begin, runs: Abreast) -> None:
    """Beside what runs only a turn of another surface under another gauge can begin."""
    if runs.first is None:
        return
    if not all(takes(one) == "turn" for one in (command.check, *(run.begun.check for run in runs))):
        text = f"begin: the {names_of(runs)} {are(runs)} running; end or cancel it first"
        raise CommandRefusedError("out-of-order", text)
    if runs.of(command.check):
        text = f"begin: {command.check} is running already; end or cancel it first"
        raise CommandRefusedError("out-of-order", text)
    for gauge in (command.gauge, command.opposite):
        if gauge in runs.gauges:
            text = f"begin: {gauge} reads for the {names_of(runs)}; choose another gauge, or end that first"
            raise CommandRefusedError("out-of-order", text)


def _turned(angle_udeg: int) -> str:
    return f"{angle_udeg / UDEG_PER_DEG:g}"


def _reached(angle_udeg: int, before_udeg: int | None) -> int:
    """An angle as given: within the turn it is reached from the last mark the shorter way, half a turn
    forward; with turns counted it is as given."""
    if before_udeg is None or not 0 <= angle_udeg < TURN_UDEG:
        return angle_udeg
    half = TURN_UDEG // 2
    back_udeg: int = (half - (angle_udeg - before_udeg)) % TURN_UDEG
    return before_udeg + half - back_udeg


def _name_for(request: str, now: datetime) -> str:
    """An id for an inspection that was given none: the day, and what no two requests share."""
    return f"{now.astimezone(UTC):%Y%m%d-%H%M%S}-{sha256(request.encode()).hexdigest()[:6]}"
