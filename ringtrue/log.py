"""The log on standard error: one line per event, for people or for machines.

`lines`: coloured columns on a terminal (not where NO_COLOR is set), `key=value` elsewhere. `json`: one
object a line. Under systemd's journal each line carries its level, so that `journalctl -p warning` works.
"""

from __future__ import annotations

import contextlib
import logging
import os
import sys
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, TextIO, cast

if TYPE_CHECKING:
    from structlog.typing import EventDict, Processor, WrappedLogger

LEVELS = ("debug", "info", "warning", "error")
FORMATS = ("lines", "json")

# Syslog's numbers (RFC 5424, 6.2.1), as the journal takes them in front of a line (sd-daemon(3)).
_PRIORITY = {"debug": 7, "info": 6, "warning": 4, "error": 3, "critical": 2}


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


class _WithPriority:
    """A renderer whose lines begin with their level as the journal reads it."""

    def __init__(self, renderer: Processor) -> None:
        self._renderer = renderer

    def __call__(self, logger: WrappedLogger, name: str, event: EventDict) -> str:
        priority = _PRIORITY.get(str(event.get("level")), _PRIORITY["info"])
        return f"<{priority}>{self._renderer(logger, name, event)!s}"


def _goes_to_journal(environ: Mapping[str, str]) -> bool:
    """Whether standard error is the very stream that systemd made for it (systemd.exec(5), JOURNAL_STREAM):
    the variable alone is handed on to everything started from there."""
    try:
        at = os.fstat(sys.stderr.fileno())
    except (OSError, ValueError, AttributeError):  # none, closed, or no file
        return False
    return environ.get("JOURNAL_STREAM") == f"{at.st_dev}:{at.st_ino}"


@contextlib.contextmanager
def _without(library: str) -> Iterator[None]:
    """As where a library is not installed, for what loads it if it is; one that is loaded stays."""
    if library in sys.modules:
        yield
        return
    sys.modules[library] = cast(Any, None)
    try:
        yield
    finally:
        del sys.modules[library]


def log_to_stderr(level: str, form: str, environ: Mapping[str, str] = os.environ) -> None:
    """Configure it. level: one of LEVELS; form: one of FORMATS."""
    # Slow to load, and nothing to a process that only grades. It would load what draws tracebacks in colour
    # too, which `inspect` brings: a tenth of a second between a daemon's start and its first reading.
    with _without("rich"):
        import structlog

    on_terminal = sys.stderr is not None and sys.stderr.isatty() and form == "lines"
    renderer: Processor
    if form == "json":
        renderer = structlog.processors.JSONRenderer(ensure_ascii=False)
    elif on_terminal:
        renderer = structlog.dev.ConsoleRenderer(
            colors=not environ.get("NO_COLOR"),  # no-color.org: set and not empty
            exception_formatter=structlog.dev.plain_traceback,
        )
    else:
        renderer = structlog.processors.LogfmtRenderer(
            key_order=["timestamp", "level", "event"], drop_missing=True
        )
    if _goes_to_journal(environ):
        renderer = _WithPriority(renderer)
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
