"""The bay: readings and commands in, events into the journal, live figures out. Neither loop nor network.

A command is checked whole before anything changes; what it causes, its messages and its reply then go
into the journal together. The bay's own state follows from the same events that the journal keeps,
so that after a restart it is read back.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import structlog

from acquire.bay import asked
from acquire.bay.asked import Reply
from acquire.bay.cautions import cautions_now, cautions_of
from acquire.bay.crank import tells_zero
from acquire.bay.dwells import asked as asked_of
from acquire.bay.dwells import shown
from acquire.bay.handlers import Handlers
from acquire.bay.heard import Heard
from acquire.bay.inspection import InspectionState, fold
from acquire.bay.known import Known
from acquire.bay.replies import Replies
from acquire.bay.stated import crank_watch
from acquire.clock import Clock
from acquire.errors import AcquireError, CommandRefusedError, JournalError
from acquire.journal.events import (
    Corrected,
    Event,
    GaugeAway,
    GaugeBack,
    IndexPassed,
    Mark,
    Opened,
    Resumed,
    SweepBegun,
    SweepEnded,
    Zeroed,
)
from acquire.journal.outbox import event_message
from acquire.journal.outgoing import Outgoing
from acquire.journal.writer import Journal
from acquire.judging import Judging
from acquire.runs.abreast import Abreast
from acquire.runs.lifts import RunningLifts
from acquire.runs.live import live_of
from acquire.runs.running import Running, ending, started, test_of
from config.method import Method
from config.profile import GaugeProfile
from config.settings import Settings
from contract import commands
from contract.live import Live
from contract.topics import Topics
from contract.wire import encode, rfc3339
from drivers.reading import Reading
from drivers.state import GaugeState, PortState

ZERO_LOST = (
    "the timing mark is no longer known: the encoder was away and came back elsewhere; bring the mark under "
    "its pointer and send zero"
)


class Bay:
    """One bay. Call it from one thread only.

    profiles: by gauge id. changed: told of an inspection whose result may be another now, and of the
    seq that must be committed before it is graded. software: name and version, for the record. judging:
    grades what a command must know. known: what the register says, set anew whenever it was read. Call
    `resume()` once before anything else.
    """

    def __init__(
        self,
        settings: Settings,
        method: Method,
        profiles: Mapping[str, GaugeProfile],
        journal: Journal,
        clock: Clock,
        changed: Callable[[str, int], None],
        *,
        software: str = "",
        judging: Judging | None = None,
    ) -> None:
        self.known = Known()
        self._journal = journal
        self._clock = clock
        self._changed = changed
        self.take_up(method)
        self._topics = Topics(settings.bay.site, settings.bay.name)
        self._log = structlog.get_logger().bind(bay=f"{settings.bay.site}/{settings.bay.name}")
        self._heard = Heard(crank=crank_watch(settings, profiles))
        self._state: InspectionState | None = None
        self._runs = Abreast()
        self._tested: RunningLifts | None = None
        self._opened_with: tuple[str, Method] | None = None
        self._replies = Replies(journal)
        self._pressed_ns: int | None = None
        self._refused_press: str | None = None
        self._handlers = Handlers(
            settings, self._in_force, profiles, journal, clock, software, lambda: self.known, self._heard,
            judging or Judging(), lambda: self._withheld,
        )  # fmt: skip

    # -- what is going on

    @property
    def latest(self) -> str | None:
        """The bay's current or latest inspection."""
        return self._state.id if self._state is not None else None

    @property
    def is_sweeping(self) -> bool:
        """Whether a sweep or a repeatability test runs."""
        return bool(self._runs)

    def _in_force(self) -> Method:
        """The method of the inspection that is open, also where the bay's own is another by now, for its
        damper."""
        state = self._state
        if state is None or state.state != "open":
            return self._method
        if self._opened_with is None or self._opened_with[0] != state.id:
            opened, damper = state.opened, state.opened.header.damper
            is_todays = opened.method_sha256 == self._method_sha256
            method = self._method if is_todays else Method.model_validate(opened.method)
            self._opened_with = state.id, method.of_damper(damper.family, damper.edge)
        return self._opened_with[1]

    def take_up(self, method: Method, withheld: str | None = None) -> None:
        """From the next inspection on: one that is open keeps its own. withheld: why none may begin."""
        self._method, self._method_sha256, self._withheld = method, method.sha256(), withheld

    @property
    def opened(self) -> Opened | None:
        """How the inspection began that is open; None where none is."""
        return self._state.opened if self._state is not None and self._state.state == "open" else None

    def live(self) -> Live | None:
        """The figures of what runs; where nothing does, the inspection and what the repeatability test that
        ended last came to; with the cautions of that step. None where there is nothing to be said."""
        state = self._state
        if state is None:
            return None
        said = cautions_now(self._in_force(), state)
        if state.state != "open":
            return Live(cautions=said) if said else None
        timers = shown(state.dwells, self._in_force(), state.moment(self._clock.monotonic_ns()))
        figures = self._figures(state)
        more: dict[str, Any] = {"cautions": said, "timers": timers}
        if not self.is_sweeping:
            more["asked"] = asked_of(self._in_force(), state.opened.header.scope)
            if self._heard.crank is not None:
                more["angle_zero"] = "encoder" if self._heard.crank.zero is None else "timing-mark"
        elif figures.angle_source in ("marks", "dwells"):
            more["next_mark_deg"] = self._handlers.next_mark_deg(state)
        elif _is_barred_on(figures) and figures.angle_zero == "timing-mark" and figures.angle_deg is not None:
            more["next_mark_deg"] = self._handlers.next_stop_deg(figures.angle_deg)
        return figures.model_copy(update=more)

    def _figures(self, state: InspectionState) -> Live:
        trouble = self._journal.trouble
        warnings = [trouble.text] if trouble is not None else []
        warnings += [self._refused_press] if self._refused_press is not None else []
        if self._heard.crank is not None and self._heard.crank.was_lost:
            warnings.append(ZERO_LOST)
        warnings += self._heard.warnings(*(one for run in self._runs for one in (run.gauge, run.encoder)))
        return live_of(state.id, self._runs, self._tested, self._in_force().limit_mm, warnings)

    # -- after a start

    def resume(self) -> None:
        """Take up the inspection that the journal holds open, and its sweep. FoldError if it is not whole."""
        with self._journal.naming():
            self._resume()

    def _resume(self) -> None:
        journal = self._journal
        open_one = journal.open_inspection()
        if open_one is None:
            latest = journal.latest_inspection()
            if latest is not None:
                events = journal.read(latest, samples=False)
                self._state = fold(events)
                if any(map(tells_zero, events)):  # only then is it worth reading all of it
                    self._restore_crank(journal.read(latest))
            return
        events = journal.read(open_one)
        self._restore_crank(events)
        self._state = fold(event for event in events if event.kind != "sample")
        for event in events:
            if isinstance(event, SweepBegun):
                self._runs.begin(started(event, self._in_force()))
                self._tested = None
            elif isinstance(event, SweepEnded):
                self._tested = test_of(self._runs.end(event.sweep), event.reason)
            else:
                self._runs.hear(event)
        now = self._clock
        self._commit(Resumed(inspection=open_one, time_ns=now.monotonic_ns(), utc=rfc3339(now.utc())))
        sweeps = [run.begun.check for run in self._runs]
        self._log.info("inspection resumed", inspection=open_one, sweep=" and ".join(sweeps) or None)

    def _restore_crank(self, events: Sequence[Event]) -> None:
        if self._heard.crank is not None:
            self._heard.crank.restore(events)

    # -- readings and gauges in

    def take_reading(self, reading: Reading) -> None:
        """One reading of any gauge of the bay; kept where the running sweep is made of it."""
        self._heard.take(reading)
        is_over = is_index = False
        for run in self._runs:
            if run.take(reading):
                self._journal.append_sample(run.begun.seq, reading)
                is_over = is_over or run.end is not None
                is_index = is_index or (reading.index and reading.gauge == run.encoder)
        first = self._runs.first
        if is_index and first is not None:
            self._commit(
                IndexPassed(inspection=first.begun.inspection, time_ns=reading.time_ns, gauge=reading.gauge)
            )
        if is_over:
            self._end_by_themselves()

    def gauge_changed(self, state: GaugeState) -> None:
        """How a gauge stands now; within a sweep that it serves, its going and coming are events."""
        gauge = state.gauge
        before = self._heard.states.get(gauge)
        self._heard.stands(state)
        using = self._runs.using(gauge)
        if not using:
            return
        is_away = gauge in using[0].intake.away
        is_live = state.state is PortState.LIVE
        common: dict[str, Any] = {
            "inspection": using[0].begun.inspection, "time_ns": self._clock.monotonic_ns(), "gauge": gauge,
        }  # fmt: skip
        if is_live and is_away:
            self._commit(GaugeBack(**common))
        elif not is_live and not is_away and before is not None and before.state is PortState.LIVE:
            self._commit(GaugeAway(**common, reason=state.reason))

    # -- commands in

    def press(self, operator: str, time_ns: int) -> Reply:
        """A switch was pressed at a mark, at that time: what the command `mark` does, with its refusals. The
        reply reaches nobody: where it is refused, `live` says why until another mark is taken."""
        request = f"press-{self._clock.utc():%Y%m%dT%H%M%S}-{time_ns}"
        self._pressed_ns = time_ns
        try:
            reply = self.command("mark", encode({"id": request, "operator": operator}))
        finally:
            self._pressed_ns = None
        refusal = json.loads(reply.payload).get("error")
        self._refused_press = f"{operator}: {refusal['message']}" if refusal else None
        return reply

    def command(self, name: str, payload: bytes, retained: bool = False) -> Reply:
        """Do what is asked, or refuse it with nothing changed; either way one reply.

        The reply goes out once its `seq` is committed. A request that was answered before is answered
        again, also after a restart, and not done again; its id for another command is refused. Not
        remembered are refusals of what was no command (malformed, unknown, oversized, retained), and those
        while the journal cannot be written.
        """
        request, said = asked.read_payload(payload)
        try:
            if retained:
                raise CommandRefusedError("retained", f"{name}: {commands.CODES['retained']}")
            if len(payload) > commands.COMMAND_BYTES_MAX:
                size = f"at most {commands.COMMAND_BYTES_MAX} bytes expected, {len(payload)} came"
                text = f"{name}: {size}; {commands.CODES['oversized']}"
                raise CommandRefusedError("oversized", text)
            mark = asked.fingerprint(name, said)
            before = self._replies.given(name, request, mark)
            if before is not None:
                return before
            command = asked.parse(name, said)
            self._refuse_in_trouble()
        except CommandRefusedError as error:
            return self._refused(name, request, error)
        except JournalError as error:
            return self._refused(name, request, CommandRefusedError("journal-failed", str(error)))
        try:
            events, answer = self._handlers.handle(command, self._state, self._runs, self._pressed_ns)
        except CommandRefusedError as error:
            reply = self._refused(name, request, error, mark)
            seq = self._journal.append_reply(reply.request, reply.payload)
            return self._replies.remember(replace(reply, seq=seq))
        except AcquireError as error:  # the journal cannot be read
            return self._refused(name, request, CommandRefusedError("journal-failed", str(error)))
        cautions = cautions_of(self._in_force(), events, self._state)
        payload = asked.done(command.id, answer | ({"cautions": cautions} if cautions else {}), mark)
        if isinstance(command, commands.Resend):
            seq = self._handlers.resend(command, self._topics, payload)
        else:
            seq = self._commit(*events, reply=(command.id, payload))
        return self._replies.remember(Reply(command.id, payload, seq))

    def _refused(
        self, name: str, request: str | None, error: CommandRefusedError, mark: str | None = None
    ) -> Reply:
        self._log.info("command refused", command=name, code=error.code, request=request)
        return asked.refused(request, error, mark)

    def _refuse_in_trouble(self) -> None:
        trouble = self._journal.trouble
        if trouble is not None:
            raise CommandRefusedError(trouble.code, f"{trouble.text}; then send the command again")

    # -- events into the journal, and their effect here

    def _commit(self, *events: Event, reply: tuple[str, bytes] | None = None) -> int:
        """Journal events with their messages and the reply; the last one's seq, 0 for none."""
        stamped = self._journal.append(*events, announce=self._announce, reply=reply)
        for event in stamped:
            self._apply(event)
        return stamped[-1].seq if stamped else 0

    def _announce(self, event: Event) -> list[Outgoing]:
        if isinstance(event, (Opened, Resumed, Corrected)):
            utc = event.utc
        elif self._state is not None and self._state.id == event.inspection:
            utc = self._state.utc_at(event.time_ns)
        else:
            utc = rfc3339(self._clock.utc())
        return [event_message(self._topics, event, utc)]

    def _apply(self, event: Event) -> None:
        may_change = True
        if isinstance(event, (Opened, Mark, SweepBegun, SweepEnded)):
            self._refused_press = None
        if isinstance(event, Opened):
            self._state = InspectionState.begin(event)
        elif self._state is not None and self._state.id == event.inspection:
            may_change = self._state.apply(event)
        if isinstance(event, Zeroed) and self._heard.crank is not None:
            self._heard.crank.zeroed(event)
        if isinstance(event, SweepBegun):
            run = started(event, self._in_force())
            self._runs.begin(run)
            self._tested = None
            self._take_position(run)
        elif isinstance(event, SweepEnded):
            self._ended(event)
        else:
            self._runs.hear(event)
        if may_change:
            self._changed(event.inspection, event.seq)
        self._end_by_themselves()

    def _take_position(self, run: Running) -> None:
        """The encoder's last reading before a sweep is of it: it says where the crank stands."""
        crank = self._heard.crank
        if crank is None or run.encoder != crank.gauge:
            return
        last = crank.fresh(run.begun.time_ns)
        if last is not None and run.take(last):
            self._journal.append_sample(run.begun.seq, last)

    def _end_by_themselves(self) -> None:
        over = self._runs.over()
        if over is not None:  # and the next one once this is applied
            run, reason = over
            common = {"inspection": run.begun.inspection, "time_ns": self._clock.monotonic_ns()}
            self._commit(ending(run, reason, common))

    def _ended(self, event: SweepEnded) -> None:
        run = self._runs.end(event.sweep)
        self._tested = test_of(run, event.reason)
        if run is not None:
            what, said = run.logged()
            self._log.info(
                what, inspection=event.inspection, gauge=run.gauge, reason=event.reason, **said
            )  # fmt: skip


def _is_barred_on(figures: Live) -> bool:
    """Whether an encoder watches the crank go on to its stops: who types angles stops where they like, and a
    turn that is covered has none left."""
    return figures.angle_source == "encoder" and figures.to_bar_deg != 0.0
