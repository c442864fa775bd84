"""`ringtrue watch`: a display in the terminal; a subscriber like any other."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import textwrap
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any, TextIO

from contract.terms import TYPED

EXAMPLE = """\
examples:
  ringtrue watch
  ringtrue watch --url mqtts://broker.quarry.example:8883 --bay quarry/bay-2
  ringtrue watch --json | grep verdict
"""

# Seconds between two live lines where they are not drawn over each other.
PLAIN_PERIOD_S = 1.0
# Between the parts of the live line: the figures of a sweep fit a terminal of 80 columns.
LIVE_GAP = "  "
# The gauge of readings that a person types.
# The figure of a check, the one that decides first; its uncertainty is that one's.
FIGURES = ("true_tir_mm", "true_spread_mm", "tir_mm", "spread_mm")


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    from ringtrue import connect

    parser = subparsers.add_parser(
        "watch",
        help="show what a bay publishes: live figures, gauges, results",
        description="Subscribes to a bay and shows live figures, gauges and results, until Ctrl-C.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--json", action="store_true", help="print each message as it comes, one a line")
    connect.add_options(parser, any_bay=True)


def run(args: argparse.Namespace) -> int:
    """Do it, until interrupted."""
    import asyncio

    with suppress(KeyboardInterrupt):  # the ordinary way to end it
        asyncio.run(_watch(args))
    return 0


async def _watch(args: argparse.Namespace) -> None:
    from link.connection import BrokerAddress, Connection, stay_connected
    from link.errors import BrokerError, LinkError
    from ringtrue.connect import find

    find_address, topics = find(args)

    def address() -> BrokerAddress:
        try:
            return find_address()
        except BrokerError as err:  # a daemon that is not there may come
            raise LinkError(str(err)) from None

    screen = Screen(sys.stdout, drawn_over=sys.stdout.isatty(), now_s=time.monotonic)
    told: list[str] = []

    async def session(connection: Connection) -> None:
        told.clear()
        await connection.subscribe(f"{topics.root}/#")
        while True:
            message = await connection.next_message()
            if args.json:
                print_raw(message.topic, message.payload, message.retained)
            else:
                screen.take(message.topic, message.payload)

    def on_down(error: LinkError) -> None:
        if str(error) not in told:
            told.append(str(error))
            screen.end_line()
            print(f"ringtrue watch: {error}; trying again", file=sys.stderr)

    await stay_connected(address, session, on_down=on_down)


def print_raw(topic: str, payload: bytes, retained: bool) -> None:
    """One message as one line of JSON; a payload that is no JSON as text."""
    try:
        body = json.loads(payload)
    except ValueError:
        body = payload.decode(errors="replace")
    line = {"topic": topic, "retained": retained, "payload": body}
    print(json.dumps(line, ensure_ascii=False), flush=True)


class Screen:
    """Turns messages into lines: one live line, drawn over where that can be done, and the rest."""

    def __init__(self, out: TextIO, *, drawn_over: bool, now_s: Callable[[], float]) -> None:
        self._out = out
        self._drawn_over = drawn_over
        self._now_s = now_s
        self._gauges: dict[str, str] = {}
        self._shown_s = float("-inf")
        self._line = ""
        self._results: dict[str, int] = {}
        self._idle: list[str] = []

    def take(self, topic: str, payload: bytes) -> None:
        """One message; what is none of ours, or is no JSON object, is passed over."""
        levels = topic.split("/")
        if len(levels) < 5:
            return
        try:
            body = json.loads(payload)
        except ValueError:
            return
        if not isinstance(body, dict):
            return
        with suppress(AttributeError, TypeError, ValueError):  # JSON, but not as the daemon writes it
            self._show(levels, body)

    def _show(self, levels: list[str], body: dict[str, Any]) -> None:
        match levels[4:]:
            case ["status"]:
                self._say(f"{levels[2]}/{levels[3]}: daemon {body.get('state')}")
            case ["gauge", gauge, "state"]:
                if self._gauges.get(gauge) != body.get("state"):
                    self._gauges[gauge] = str(body.get("state"))
                    self._say(f"{gauge}: {body.get('state')} ({body.get('reason')})")
            case ["live"]:
                self._live(body)
            case ["result"]:
                self._result(body)
            case _:
                pass

    def end_line(self) -> None:
        """Leave the live line as it is and go on below it."""
        if self._drawn_over and self._line:
            self._out.write("\n")
            self._out.flush()
            self._line = ""

    def _say(self, *lines: str) -> None:
        self.end_line()
        width = shutil.get_terminal_size().columns - 1
        for line in lines:
            text = textwrap.fill(line, width, subsequent_indent="    ") if self._drawn_over else line
            print(text, file=self._out, flush=True)

    def _live(self, live: dict[str, Any]) -> None:
        if not live.get("check"):
            self.end_line()
            told, self._idle = self._idle, idle_lines(live)
            if self._idle and self._idle != told:
                self._say(*self._idle)
            return
        if self._drawn_over:
            width = shutil.get_terminal_size().columns - 1
            line = live_line(live, self._gauges, width)
            self._out.write("\r" + line.ljust(min(len(self._line), width)))
            self._out.flush()
            self._line = line
        elif self._now_s() - self._shown_s >= PLAIN_PERIOD_S:
            self._shown_s = self._now_s()
            print(live_line(live, self._gauges), file=self._out, flush=True)

    def _result(self, result: dict[str, Any]) -> None:
        inspection, revision = str(result.get("inspection")), result.get("revision", 0)
        if self._results.get(inspection) != revision:
            self._results[inspection] = revision
            self._say(*result_lines(result))


def live_line(live: dict[str, Any], gauges: dict[str, str], width: int | None = None) -> str:
    """The live figures in one line; a gauge that is not connected shows no number.

    width: of the terminal. What does not fit is left out whole: half of a figure would mislead.
    """
    away = {gauge: state for gauge, state in gauges.items() if state != "connected"}
    if live.get("gauge") == TYPED:
        away = {}
    value = None if live.get("gauge") in away else live.get("value_mm")
    running = "run-out" if live.get("check") in ("rim", "face") else "spread"
    parts = [
        f"{live.get('check')}",
        *(f"{gauge} {state}" for gauge, state in sorted(away.items())),
        *(str(warning) for warning in live.get("warnings", ())),
        *_next(live),
        "no value" if value is None else f"{_number(value, '+.3f')} mm",
        f"{running} so far {_number(live.get('max_deviation_mm'), '.3f')}"
        + (f" of {_number(live['limit_mm'], '.3f')}" if live.get("limit_mm") is not None else "")
        + " mm",
    ]
    if live.get("covered_deg") is not None:
        parts.append(f"covered {_number(live['covered_deg'], '.0f')}°")
    if gauges and not away:
        parts.append("gauges connected")
    while width is not None and len(parts) > 2 and len(LIVE_GAP.join(parts)) > width:
        parts.pop()
    line = LIVE_GAP.join(parts)
    return line if width is None or len(line) <= width else f"{line[: width - 1]}…"


def _next(live: dict[str, Any]) -> list[str]:
    """Where the crank stands; or what to do next, where it does not turn."""
    if live.get("check") == "lifts":
        return [str(live["next_step"])] if live.get("next_step") else []
    if live.get("next_station_deg") is not None:
        return [f"next: station {_number(live['next_station_deg'], 'g')}° {live.get('next_radius')}"]
    if live.get("check") == "thickness":
        return []
    return [f"angle {_number(live.get('angle_deg'), '.1f')}°"]


def idle_lines(live: dict[str, Any]) -> list[str]:
    """What is to be said while nothing runs: what a repeatability test came to, and what is wrong."""
    lines = [str(warning) for warning in live.get("warnings", ())]
    if live.get("repeatability_mm") is not None:
        lines.append(f"lifts: standard deviation {_number(live['repeatability_mm'], '.4f')} mm")
    return lines


def result_lines(result: dict[str, Any]) -> list[str]:
    """A result document as a technician reads it: verdict, checks, reasons."""
    head = f"inspection {result.get('inspection')} (revision {result.get('revision')}, {result.get('state')})"
    lines = [f"{head}: {str(result.get('verdict', '')).replace('-', ' ')}"]
    for name, check in result.get("checks", {}).items():
        figures = FIGURES if check.get("outcome") != "invalid" else ()  # what is not judged is no figure
        figure = next((check[key] for key in figures if check.get(key) is not None), None)
        text = f"  {name}: {check.get('outcome')}"
        if figure is not None:
            text += f", {figure:.3f} mm"
            if check.get("u_expanded_mm") is not None:
                text += f" ± {check['u_expanded_mm']:.3f} mm"
        if check.get("limit_mm") is not None:
            text += f", limit {check['limit_mm']:.3f} mm"
        lines.append(text)
    reasons = [str(reason) for reason in result.get("reasons", ())]
    for name, check in result.get("checks", {}).items():  # they are no reason where another check decides
        told = any(reason.startswith(f"{name}:") for reason in reasons)
        if check.get("outcome") in ("invalid", "unclear") and check.get("reason") and not told:
            reasons.append(f"{name}: {check['reason']}")
        reasons += [f"{name}: note: {warning}" for warning in check.get("warnings", ())]
    return lines + [f"  {reason}" for reason in reasons]


def _number(value: object, form: str) -> str:
    return format(value, form) if isinstance(value, int | float) else "–"
