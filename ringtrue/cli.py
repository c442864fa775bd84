"""The command line: one module of this package per command, imported only when it is called.

A command's module has `add(subparsers)`, which describes it, and `run(args) -> int`, which does it.
Exit codes: 0 done; 1 the answer is "no"; 2 usage; 3 could not run.
"""

from __future__ import annotations

import argparse
import contextlib
import logging
import os
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module
from typing import TextIO, cast

import structlog

from config.errors import RingtrueError
from ringtrue import __version__

COMMANDS = (
    "run",
    "demo",
    "watch",
    "send",
    "grade",
    "regrade",
    "export",
    "backup",
    "restore",
    "risk",
    "study",
    "check",
)

LEVELS = ("debug", "info", "warning", "error")

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
    level = args.log_level or ("info" if args.command == "run" else "warning")
    _log_to_stderr(level)
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


def _parser(arguments: list[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ringtrue",
        description="Reads gauges while a crank is barred over, grades the damper, publishes the verdict.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"ringtrue {__version__}")
    parser.add_argument(
        "--log-level", choices=LEVELS, help="how much to say on stderr (run: info; else warning)"
    )
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    if "--version" not in arguments:
        for command in _needed(arguments):
            import_module(f"ringtrue.commands.{command}").add(subparsers)
    return parser


def _needed(arguments: list[str]) -> Sequence[str]:
    """The command that is called; all of them where help or an error must list them."""
    words = [word for word in arguments if not word.startswith("-") and word not in LEVELS]
    return words[:1] if words and words[0] in COMMANDS else COMMANDS


class _Stderr:
    """Standard error for the log: where nobody reads it, or its disk is full, what is said is gone.

    The daemon must go on: a full disk is what it has to say something about.
    """

    def write(self, text: str) -> int:
        with contextlib.suppress(OSError, ValueError, AttributeError):  # closed before we began: None
            sys.stderr.write(text)
        return len(text)

    def flush(self) -> None:
        with contextlib.suppress(OSError, ValueError, AttributeError):
            sys.stderr.flush()


def _log_to_stderr(level: str) -> None:
    on_terminal = sys.stderr is not None and sys.stderr.isatty()
    renderer: structlog.typing.Processor = structlog.processors.LogfmtRenderer()
    if on_terminal:
        renderer = structlog.dev.ConsoleRenderer(
            colors=not os.environ.get("NO_COLOR"),  # no-color.org: set and not empty
            exception_formatter=structlog.dev.plain_traceback,
        )
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            *([] if on_terminal else [structlog.processors.format_exc_info]),
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(getattr(logging, level.upper())),
        logger_factory=structlog.PrintLoggerFactory(cast(TextIO, _Stderr())),
        cache_logger_on_first_use=False,
    )


def _refuse(message: str, code: int, level: str) -> int:
    if level == "debug":
        traceback.print_exc()
    print(f"ringtrue: {message}" if "\n" not in message else message, file=sys.stderr)
    return code
