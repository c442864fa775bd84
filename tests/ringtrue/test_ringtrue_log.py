"""The log on standard error, for people and for machines."""

from __future__ import annotations

import json
import os
import pty
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import structlog

from ringtrue.log import log_to_stderr

ESCAPE = "\x1b"


def speak() -> None:
    log = structlog.get_logger()
    log.info("quiet")
    log.warning("gauge state", gauge="indicator-1", reason="größer = no")
    try:
        raise ValueError("broke")
    except ValueError:
        log.exception("a part failed")


def test_json_is_one_object_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    log_to_stderr("warning", "json", {})
    speak()
    first, second = map(json.loads, capsys.readouterr().err.splitlines())
    assert first.pop("timestamp").endswith("Z")
    assert first == {
        "event": "gauge state", "level": "warning", "gauge": "indicator-1", "reason": "größer = no",
    }  # fmt: skip
    assert second["level"] == "error"
    assert second["exception"].splitlines()[-1] == "ValueError: broke"


def test_lines_name_their_level(capsys: pytest.CaptureFixture[str]) -> None:
    log_to_stderr("warning", "lines", {})
    speak()
    first, second = capsys.readouterr().err.splitlines()
    assert "level=warning" in first
    assert "level=error" in second
    assert ESCAPE not in first + second


def on_terminal(monkeypatch: pytest.MonkeyPatch, environ: dict[str, str], say: Callable[[], None]) -> str:
    """What a terminal as standard error is sent."""
    master, slave = pty.openpty()
    with os.fdopen(slave, "w", buffering=1) as stream, monkeypatch.context() as patched:
        patched.setattr(sys, "stderr", stream)
        log_to_stderr("info", "lines", environ)
        say()
        sent = os.read(master, 65_536).decode()
    os.close(master)
    return sent


@pytest.mark.parametrize(
    ("environ", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False), ({"NO_COLOR": ""}, True)]
)
def test_a_terminal_is_coloured_unless_it_is_not_wanted(
    monkeypatch: pytest.MonkeyPatch, environ: dict[str, str], coloured: bool
) -> None:
    """no-color.org: any text but the empty one says so."""
    sent = on_terminal(monkeypatch, environ, lambda: structlog.get_logger().info("ready"))
    assert "ready" in sent
    assert (ESCAPE in sent) is coloured


def test_under_the_journal_each_line_begins_with_its_level(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "journal"
    for stream_of, begins in (("this", ["<4>", "<3>"]), ("another", ["tim", "tim"])):
        with file.open("w") as stream, monkeypatch.context() as patched:
            patched.setattr(sys, "stderr", stream)
            at = os.fstat(stream.fileno())
            inode = at.st_ino if stream_of == "this" else at.st_ino + 1
            log_to_stderr("warning", "lines", {"JOURNAL_STREAM": f"{at.st_dev}:{inode}"})
            speak()
        assert [line[:3] for line in file.read_text().splitlines()] == begins
