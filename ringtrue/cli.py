"""The command line: one module of this package per command, imported only when it is called.

A command's module has `add(subparsers)`, which describes it, and `run(args) -> int`, which does it.
Exit codes: 0 done; 1 the answer is "no"; 2 usage; 3 could not run.
"""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
import traceback
from collections.abc import Sequence
from importlib import import_module
from typing import NoReturn

from config.errors import RingtrueError
from ringtrue import __version__
from ringtrue.log import FORMATS, LEVELS, log_to_stderr

COMMANDS = (
    "run",
    "demo",
    "practice",
    "watch",
    "inspect",
    "display",
    "send",
    "photo",
    "grade",
    "separate",
    "regrade",
    "register",
    "due",
    "export",
    "forward",
    "sparkplug",
    "writer",
    "history",
    "fleet",
    "report",
    "backup",
    "restore",
    "records",
    "risk",
    "study",
    "gauges",
    "learn",
    "capture",
    "check",
    "schema",
    "method",
)

SERVING = ("run", "display", "forward", "sparkplug", "writer")
"""Commands that go on until they are stopped."""

EXIT_COULD_NOT_RUN = 3
EXIT_INTERRUPTED = 130
"""128 + SIGINT, as shells have it."""

EXAMPLE = """\
example:
  ringtrue demo --speed 20
  ringtrue COMMAND --help
"""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; usage errors and --help leave by SystemExit."""
    # Before numpy is loaded: linear algebra of small matrices gains nothing from more threads, and the
    # daemon's other core belongs to its gauges.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    arguments = list(sys.argv[1:] if argv is None else argv)
    args = _parser(arguments).parse_args(arguments)
    level = args.log_level or ("info" if args.command in SERVING else "warning")
    log_to_stderr(level, args.log_format)
    try:
        code: int = import_module(f"ringtrue.commands.{args.command}").run(args)
        if sys.stdout is not None:  # closed before we began
            sys.stdout.flush()
    except RingtrueError as error:
        return _refuse(str(error), error.exit_code, level)
    except KeyboardInterrupt:
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has read enough. Keep the interpreter from complaining at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        return _refuse(f"{place}{error.strerror or error}", EXIT_COULD_NOT_RUN, level)
    return code


class _Parser(argparse.ArgumentParser):
    """Tells a mistake in one line, without the list of all options before it."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message}; {self.prog} --help tells more\n")


def _parser(arguments: list[str]) -> argparse.ArgumentParser:
    parser = _Parser(
        prog="ringtrue",
        description="Reads gauges while a crank is barred over, grades the damper, publishes the verdict.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"ringtrue {__version__}")
    parser.add_argument(
        "--log-level",
        choices=LEVELS,
        help=f"how much to say on stderr ({', '.join(SERVING)}: info; else warning)",
    )
    parser.add_argument(
        "--log-format", choices=FORMATS, default="lines", help="how: for people, or JSON (default: lines)"
    )
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    if "--version" not in arguments:
        for command in _needed(arguments):
            import_module(f"ringtrue.commands.{command}").add(subparsers)
    for described in subparsers.choices.values():  # the raw formatter, for the examples, breaks no line
        described.description = textwrap.fill(described.description or "", 80)
    return parser


def _needed(arguments: list[str]) -> Sequence[str]:
    """The command that is called; all of them where help or an error must list them."""
    words = [word for word in arguments if not word.startswith("-") and word not in LEVELS + FORMATS]
    return words[:1] if words and words[0] in COMMANDS else COMMANDS


def _refuse(message: str, code: int, level: str) -> int:
    if level == "debug":
        traceback.print_exc()
    print(f"ringtrue: {message}" if "\n" not in message else message, file=sys.stderr)
    return code
