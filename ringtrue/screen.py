"""The terminal as a display of one bay or several: messages in, lines out."""

from __future__ import annotations

import json
import shutil
import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TextIO

from pydantic import ValidationError

from contract import document
from contract.events import EventMessage
from contract.lengths import LengthUnit
from contract.live import Live
from contract.methods import MethodMessage
from contract.result import ItemPart, ObservedCheck, Result
from contract.states import GaugeStateMessage, StatusMessage
from contract.terms import PublicState
from contract.told import live_in, result_in
from display.shown import (
    ended_line,
    idle_lines,
    live_parts,
    method_line,
    result_lines,
    rung_line,
    timer_line,
)

# Seconds between two live lines where they are not drawn over each other.
PLAIN_PERIOD_S = 1.0
# Between the parts of the live line.
GAP = "  "
# Control sequences (ECMA-48): lines up; erase to the end of the line, of the screen.
UP, ERASE_LINE, ERASE_BELOW = "\x1b[{}A", "\x1b[K", "\x1b[J"


@dataclass(slots=True)
class _Bay:
    """What one bay was last heard to say."""

    status: StatusMessage | None = None
    gauges: dict[str, PublicState] = field(default_factory=dict)
    check: str | None = None
    sweeps: dict[object, str] = field(default_factory=dict)
    idle: list[str] = field(default_factory=list)
    cautions: tuple[str, ...] = ()
    inspection: str | None = None
    cautioned: set[str] = field(default_factory=set)
    rung: set[str] = field(default_factory=set)
    shown: tuple[str, int] | None = None
    items: dict[str, tuple[ItemPart, ...]] = field(default_factory=dict)
    following: str | None = None
    method: str = ""


class Screen:
    """Turns messages into lines: live figures, drawn over where that can be done, and the rest above them.

    drawn_over: whether `out` is a terminal that knows ECMA-48. columns: how wide it is, asked each time.
    """

    def __init__(
        self,
        out: TextIO,
        unit: LengthUnit,
        *,
        drawn_over: bool,
        now_s: Callable[[], float],
        columns: Callable[[], int] = lambda: shutil.get_terminal_size().columns,
    ) -> None:
        self._out = out
        self._unit = unit
        self._drawn_over = drawn_over
        self._now_s = now_s
        self._columns = columns
        self._bays: dict[str, _Bay] = {}
        self._shown_s = float("-inf")
        self._height = 0
        self._unread: set[str] = set()

    def take(self, topic: str, payload: bytes) -> None:
        """One message; what is none of ours is passed over, what cannot be read is said once."""
        levels = topic.split("/")
        if len(levels) < 5 or not payload:
            return
        name = f"{levels[2]}/{levels[3]}"
        bay = self._bays.setdefault(name, _Bay())
        try:
            self._show(name, bay, levels[4:], payload)
        except (ValidationError, json.JSONDecodeError):
            if topic not in self._unread:
                self._unread.add(topic)
                self._say(f"{topic}: a message that this ringtrue cannot read; is the daemon a newer one?")

    def _show(self, name: str, bay: _Bay, levels: list[str], payload: bytes) -> None:
        match levels:
            case ["status"]:
                self._status(name, bay, StatusMessage.model_validate_json(payload))
            case ["gauge", gauge, "state"]:
                said = GaugeStateMessage.model_validate_json(payload)
                if bay.gauges.get(gauge) != said.state:
                    bay.gauges[gauge] = said.state
                    self._say(f"{gauge}: {said.state} ({said.reason})")
            case ["method"]:
                line = method_line(MethodMessage.model_validate_json(payload))
                if bay.method != line:
                    bay.method = line
                    self._say(f"{name}: {line}")
            case ["live"]:
                self._live(name, bay, Live.model_validate_json(payload))
            case ["inspection", _, "event"]:
                event = EventMessage.model_validate_json(payload)
                more = event.model_extra or {}
                if event.event == "sweep-begun":
                    bay.check = str(more.get("check", "sweep"))
                    # What a second gauge reads of a face begins and ends with the first one's.
                    bay.sweeps[event.seq] = "" if more.get("across") else bay.check
                elif event.event == "sweep-ended":
                    self._ended(bay, more.get("sweep"), str(more.get("reason")))
            case ["result"]:
                self._result(bay, document.decode(payload))
            case _:
                pass

    def end_line(self) -> None:
        """Leave the live figures as they are and go on below them."""
        if self._height:
            self._out.write("\n")
            self._out.flush()
            self._height = 0

    def _say(self, *lines: str) -> None:
        self.end_line()
        for line in lines:
            for text in self._wrapped(line) if self._drawn_over else [line]:
                print(text, file=self._out)
        self._out.flush()

    def _wrapped(self, line: str) -> list[str]:
        indent = " " * (len(line) - len(line.lstrip()) + 4)
        return textwrap.wrap(line, self._width, subsequent_indent=indent, break_on_hyphens=False) or [""]

    @property
    def _width(self) -> int:
        return max(20, self._columns() - 1)

    def _status(self, name: str, bay: _Bay, status: StatusMessage) -> None:
        before, bay.status = bay.status, status
        if before is None or before.state != status.state:
            self._say(f"{name}: daemon {status.state}")
        if status.state == "offline":
            bay.gauges.clear()  # what it last said of them is past
        new = [one for one in status.warnings if before is None or one not in before.warnings]
        if new:
            self._say(*(f"{name}: {warning}" for warning in new))

    def _live(self, name: str, bay: _Bay, live: Live) -> None:
        live = live_in(live, self._unit)
        self._caution(bay, live)
        self._ring(bay, live)
        timers = [text for timer in live.timers for text in self._wrapped(timer_line(timer))]
        if live.check is None:
            told, bay.idle = bay.idle, idle_lines(live, self._unit)
            if bay.idle != told:
                self._say(*bay.idle)
            if timers and self._drawn_over:
                self._draw(timers)
            else:
                self.end_line()
            return
        bay.check, bay.idle = live.check, []
        parts = live_parts(live, bay.gauges, self._unit)
        if len(self._bays) > 1:
            parts[0] = f"{name} {parts[0]}"
        if self._drawn_over:
            self._draw([*packed(parts, self._width), *timers, *self._warned(live)])
        elif self._now_s() - self._shown_s >= PLAIN_PERIOD_S:
            self._shown_s = self._now_s()
            print(GAP.join([*parts, *live.warnings]), file=self._out, flush=True)

    def _ended(self, bay: _Bay, sweep: object, reason: str) -> None:
        if sweep not in bay.sweeps:  # of the only one that ran, or begun before anybody looked
            bay.sweeps.clear()
        check = bay.sweeps.pop(sweep, bay.check or "sweep")
        others = " and ".join(filter(None, bay.sweeps.values()))
        if check and others and reason == "complete":
            self._say(f"{check} sweep complete; bar on, the {others} sweep still runs")
        elif check:
            self._say(ended_line(check, reason))

    def _caution(self, bay: _Bay, live: Live) -> None:
        """Those of a step that begins; between two sweeps only what this inspection has not said yet."""
        if live.inspection is not None and live.inspection != bay.inspection:
            bay.inspection = live.inspection
            bay.cautioned.clear()
        if live.cautions == bay.cautions:
            return
        bay.cautions = live.cautions
        new = [line for line in live.cautions if live.check is not None or line not in bay.cautioned]
        bay.cautioned.update(live.cautions)
        if new:
            self._say(*(f"caution: {line}" for line in new))

    def _ring(self, bay: _Bay, live: Live) -> None:
        """Each dwell that lasted long enough, or too long, once."""
        rung = {line for timer in live.timers if (line := rung_line(timer)) is not None}
        new, bay.rung = sorted(rung - bay.rung), rung
        if new:
            self._say(*new)

    def _warned(self, live: Live) -> list[str]:
        return [text for warning in live.warnings for text in self._wrapped(f"! {warning}")]

    def _draw(self, lines: list[str]) -> None:
        up = UP.format(self._height - 1) if self._height > 1 else ""
        self._out.write(f"{up}\r" + f"{ERASE_LINE}\n".join(lines) + ERASE_BELOW)
        self._out.flush()
        self._height = len(lines)

    def _result(self, bay: _Bay, result: Result) -> None:
        key = result.inspection, result.revision
        if bay.shown == key:
            return
        if bay.shown is None or bay.shown[0] != result.inspection:
            bay.items.clear()
            bay.following = None
        bay.shown = key
        seen = {n: c.items for n, c in result.checks.by_name().items() if isinstance(c, ObservedCheck)}
        untouched = [n for n, items in seen.items() if all(item.seen == "not seen" for item in items)]
        new = {n for n, items in seen.items() if n not in untouched and bay.items.get(n) != items}
        # While it is open what is to be looked at next is told before the first look, with the names that
        # `record` takes: one check at a time.
        following = untouched[0] if untouched and result.state == "open" else None
        if following is not None and following != bay.following:
            new.add(following)
        bay.items, bay.following = seen, following
        self._say(*result_lines(result_in(result, self._unit), self._unit, frozenset(new)))


def packed(parts: list[str], width: int) -> list[str]:
    """The parts in as few lines as hold them; each whole, and none left out."""
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + len(GAP) + len(part) <= width:
            lines[-1] += GAP + part
        else:
            lines += textwrap.wrap(part, width) or [""]
    return lines
