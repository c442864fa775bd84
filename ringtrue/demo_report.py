"""What a demonstration says: cautions first, a live line, the figures and where to look further."""

from __future__ import annotations

import shutil
import sys
import textwrap
import time
from pathlib import Path

import ringtrue
from contract.live import Live
from contract.result import Result, SurfaceCheck
from contract.words import due_words
from ringtrue.demo_folder import ENCODER, INDICATOR, MICROMETER, DemoFolder
from simulators.damper import Damper

CAUTIONS = """\
Before a real engine is barred: engine off, isolated, locked out and tagged, cool. Bar by hand only,
never with the starter while anyone or any gauge is near. Hands and cables clear of fan and belts.
Never lever or hammer on a damper. The maker's manual, local codes and licensed practice come first.
"""

# Seconds between two changes of the live line: a terminal, which overwrites it; a log, which keeps it.
TERMINAL_S, LOG_S = 0.1, 2.0
# Widest running text; a terminal that is narrower wraps it sooner.
TEXT_WIDTH = 100
# Width of the word that each line begins with.
WORD_WIDTH = 14


class LiveLine:
    """Lines of text, and below them one that changes: angle, value, run-out so far, covered."""

    def __init__(self) -> None:
        self._on_terminal = sys.stdout.isatty()
        self._shown_s = float("-inf")
        self._open = False

    def show(self, live: Live) -> None:
        """One live message of the daemon; shown if it is time for it."""
        now_s = time.monotonic()
        wait_s = TERMINAL_S if self._on_terminal else LOG_S
        if live.covered_deg is None or live.value_mm is None or now_s - self._shown_s < wait_s:
            return
        self._shown_s = now_s
        text = live_text(live)
        if self._on_terminal:
            width = shutil.get_terminal_size().columns - 1
            print(f"\r{text[:width]:<{width}}", end="", flush=True)
            self._open = True
        else:
            print(text, flush=True)

    def say(self, word: str, text: str) -> None:
        """A line that stays, above the live one."""
        self.end()
        indent = " " * WORD_WIDTH
        whole = textwrap.fill(
            f"{word:<{WORD_WIDTH}}{text}", _text_width(), subsequent_indent=indent,
            break_long_words=False, break_on_hyphens=False,
        )  # fmt: skip
        print(whole, flush=True)

    def end(self) -> None:
        """Leave the live line as it is and go on below it."""
        if self._open:
            print(flush=True)
        self._open = False


def live_text(live: Live) -> str:
    """A live message as one line of a usual terminal: crank angle, value, and what has come of it."""
    angle, deviation = live.angle_deg, live.max_deviation_mm
    parts = [
        f"{live.check or '':<{WORD_WIDTH}}",
        f"{angle:5.1f}°" if angle is not None else "    ?°",
        f"{live.value_mm or 0.0:+.3f} mm",
        f"run-out so far {deviation or 0.0:.3f} of {live.limit_mm or 0.0:.3f} mm",
        f"covered {live.covered_deg or 0.0:3.0f}°",
    ]
    return parts[0] + "  ".join(parts[1:])


def swept_text(check: SurfaceCheck) -> str:
    """One surface of the result document as one line; the reason where it has no figures."""
    if check.true_tir_mm is None or check.outcome == "invalid":
        return f"{check.outcome}: {check.reason}"
    estimate = f"{check.true_tir_mm:.3f} ± {check.u_expanded_mm or 0.0:.3f} mm"
    return f"{check.outcome}: true TIR {estimate}, limit {check.limit_mm:.3f} mm"


def opening(folder: DemoFolder, truck: str, engine: str, damper: str) -> None:
    """What is about to happen."""
    what = f"One inspection of an invented {truck}, engine {engine}, damper {damper}"
    how = "simulated gauges on real serial lines, read by the bay daemon and graded by the example method."
    print(textwrap.fill(f"{what}: {how}", _text_width()), end="\n\n")
    print(textwrap.fill(CAUTIONS, _text_width()), end="\n\n")
    call = called_as()
    for word, text in (
        ("daemon", f"{call} run --config {folder.config}"),
        ("gauges", f"{INDICATOR} and {MICROMETER}, 0.001 mm; {ENCODER}, 0.1°"),
        ("ports", str(folder.folder / "ports")),
        ("wall", f"in a browser: {folder.wall}"),
        ("watch", f"from another terminal: {call} watch --config {folder.config}"),
    ):
        print(f"{word:<{WORD_WIDTH}}{text}", flush=True)


def closing(
    folder: DemoFolder, result: Result, damper: Damper, spread_mm: float, picture: Path | None, report: Path
) -> None:
    """The figures beside the truth, the verdict, and the commands to look further."""
    print()
    print(_row("", "dial shows", "true TIR", "limit", "high spot", "built in", "(mm)"))
    for name, check, built_in_mm in (
        ("rim", result.checks.rim, damper.rim_tir_mm()),
        ("face", result.checks.face, damper.face_tir_mm()),
    ):
        if check is not None:
            high = "" if check.high_spot_deg is None else f"{check.high_spot_deg:.0f}°"
            true = "–"
            if check.true_tir_mm is not None:
                true = f"{_mm(check.true_tir_mm)} ± {_mm(check.u_expanded_mm)}"
            limit, built_in = _mm(check.limit_mm), _mm(built_in_mm)
            print(_row(name, _mm(check.tir_mm), true, limit, high, built_in, check.outcome))
    casing = result.checks.thickness
    if casing is not None:
        print(_row("", "spread", "true spread", "limit", "", "built in", "(mm)"))
        true = f"{_mm(casing.true_spread_mm)} ± {_mm(casing.u_expanded_mm)}"
        spread, limit = _mm(casing.spread_mm), _mm(casing.limit_mm)
        print(_row("casing", spread, true, limit, "", _mm(spread_mm), casing.outcome))
    print(f"\nverdict: {result.verdict}")
    for reason in result.reasons:
        print(textwrap.fill(reason, _text_width(), initial_indent="  ", subsequent_indent="    "))
    if result.next_due is not None:
        next_due = f"next due: {due_words(result.next_due)}"
        print(textwrap.fill(next_due, _text_width(), initial_indent="  ", subsequent_indent="    "))
    if picture is not None:
        print(f"\npicture: {picture}")
    print(f"report:  {report}")
    call, config = called_as(), folder.config
    print("\nTo look further:")
    print(f"  {call} report {result.inspection} --config {config} --unit in")
    print(f"  {call} regrade {result.inspection} --config {config}")
    print(f"  {call} records verify --config {config}")
    print(f"  {call} export --format csv --config {config}")
    print(f"  {call} run --config {config}      and in another terminal")
    print(f"  {call} watch --config {config}")


def called_as() -> str:
    """How this program is called here: the script of a checkout, or the installed command."""
    checkout = Path(ringtrue.__file__).resolve().parent.parent
    script = checkout / "run"
    if not script.is_file() or not (checkout / "pyproject.toml").is_file():
        return "ringtrue"
    return "./run" if Path.cwd() == checkout else str(script)


def _row(name: str, dial: str, true: str, limit: str, high: str, built_in: str, outcome: str) -> str:
    cells = f"{name:<{WORD_WIDTH}}{dial:>10}{true:>16}{limit:>9}{high:>11}{built_in:>10}  {outcome}"
    return cells.rstrip()


def _text_width() -> int:
    return min(TEXT_WIDTH, shutil.get_terminal_size((TEXT_WIDTH, 24)).columns)


def _mm(value: float | None) -> str:
    return "–" if value is None else f"{value:.3f}"
