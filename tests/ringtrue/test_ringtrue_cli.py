from __future__ import annotations

import argparse
import errno
import io
import json
import re
import shlex
import subprocess
import sys
import types
from importlib import import_module
from pathlib import Path
from typing import Any, cast

import pytest
import structlog

from config.errors import ConfigError, Problem, RingtrueError
from ringtrue import __version__
from ringtrue.cli import COMMANDS, main

ROOT = Path(__file__).parents[2]


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> types.ModuleType:
    """A command called `check` that does what `act` says."""
    module = types.ModuleType("ringtrue.commands.check")
    # Put in its place for this test.
    module.add = lambda subparsers: subparsers.add_parser("check")  # type: ignore[attr-defined]
    module.run = lambda _args: 0  # type: ignore[attr-defined]  # put in its place for this test
    monkeypatch.setitem(sys.modules, "ringtrue.commands.check", module)
    return module


def raising(error: BaseException) -> Any:
    def run(_args: argparse.Namespace) -> int:
        raise error

    return run


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example_and_says_what_it_does(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main([name, "--help"])
    assert left.value.code == 0
    said, _, example = capsys.readouterr().out.partition("example")
    assert f"ringtrue {name}" in example
    assert max(map(len, said.splitlines())) <= 110
    for line in example.splitlines():
        if line.startswith("  ringtrue"):
            shlex.split(line)  # a shell would take it: every quote has its other


def test_help_lists_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    listed = capsys.readouterr().out
    assert [name for name in COMMANDS if f"\n    {name} " not in listed] == []


ACTIONS = {
    "method": ("diff", "key", "sign", "publish"),
    "records": ("verify", "prove"), "register": ("import", "export", "list", "event"),
}  # fmt: skip


@pytest.mark.parametrize(
    "words",
    [(name, *action) for name in COMMANDS for action in [(), *((one,) for one in ACTIONS.get(name, ()))]],
    ids=" ".join,
)
def test_every_help_says_what_the_exit_codes_mean(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main([*words, "--help"])
    assert re.search(r"^exit: 0 [^;]+;[^.]* 2 usage[;.,]", capsys.readouterr().out, re.MULTILINE)


def test_every_module_that_is_a_command_is_listed() -> None:
    modules = [path.stem for path in (ROOT / "ringtrue" / "commands").glob("[!_]*.py")]
    assert sorted(COMMANDS) == sorted(
        name for name in modules if hasattr(import_module(f"ringtrue.commands.{name}"), "add")
    )


def test_the_exit_code_is_the_commands(command: Any) -> None:
    command.run = lambda _args: 1
    assert main(["check"]) == 1


def test_an_error_of_ours_is_one_line_on_stderr_and_3(
    command: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    command.run = raising(RingtrueError("rim-1: no such port; plug it in"))
    assert main(["check"]) == 3
    assert capsys.readouterr() == ("", "ringtrue: rim-1: no such port; plug it in\n")


def test_mistakes_in_files_are_listed_bare_and_3(command: Any, capsys: pytest.CaptureFixture[str]) -> None:
    command.run = raising(
        ConfigError([Problem("a.toml", line, "bay.site", "7", "a name") for line in (1, 2)])
    )
    assert main(["check"]) == 3
    assert capsys.readouterr().err == (
        "a.toml:1: bay.site: expected a name, found 7\na.toml:2: bay.site: expected a name, found 7\n"
    )


def test_a_missing_file_is_one_line_with_its_name(command: Any, capsys: pytest.CaptureFixture[str]) -> None:
    command.run = raising(FileNotFoundError(2, "No such file or directory", "sweep.csv"))
    assert main(["check"]) == 3
    assert capsys.readouterr().err == "ringtrue: sweep.csv: No such file or directory\n"


def test_an_interruption_is_quiet(command: Any, capsys: pytest.CaptureFixture[str]) -> None:
    command.run = raising(KeyboardInterrupt())
    assert main(["check"]) == 130
    assert capsys.readouterr() == ("", "")


def test_debugging_shows_where_an_error_came_from(command: Any, capsys: pytest.CaptureFixture[str]) -> None:
    command.run = raising(RingtrueError("it broke"))
    assert main(["--log-level", "debug", "check"]) == 3
    said = capsys.readouterr().err
    assert "Traceback" in said
    assert said.endswith("ringtrue: it broke\n")


def test_logs_go_to_stderr_one_line_each_from_the_level_up(
    command: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(_args: argparse.Namespace) -> int:
        structlog.get_logger().info("quiet")
        structlog.get_logger().warning("gauge-silent", gauge="indicator-1")
        return 0

    command.run = run
    assert main(["check"]) == 0
    out, err = capsys.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert "event=gauge-silent" in line
    assert "gauge=indicator-1" in line


def test_the_form_of_the_log_is_an_option(command: Any, capsys: pytest.CaptureFixture[str]) -> None:
    command.run = lambda _args: structlog.get_logger().warning("lost", gauge="indicator-1") or 0
    assert main(["--log-format", "json", "check"]) == 0
    assert '"event": "lost"' in capsys.readouterr().err


class FullDisk(io.StringIO):
    def write(self, _text: str) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize("stderr", [FullDisk(), None])
def test_a_log_that_cannot_be_written_stops_nothing(
    command: Any, monkeypatch: pytest.MonkeyPatch, stderr: io.StringIO | None
) -> None:
    def run(_args: argparse.Namespace) -> int:
        structlog.get_logger().error("the disk is full")
        return 1

    command.run = run
    monkeypatch.setattr(sys, "stderr", stderr)
    monkeypatch.setattr(sys, "stdout", None)
    assert main(["check"]) == 1


@pytest.mark.parametrize("arguments", [[], ["nonsense"], ["check", "--nonsense"]])
def test_wrong_usage_is_2(command: Any, arguments: list[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert left.value.code == 2


@pytest.mark.slow
def test_the_version_is_quick_and_imports_no_numpy() -> None:
    script = (
        "import sys; from ringtrue.cli import main\n"
        "try: main(['--version'])\n"
        "finally: assert 'numpy' not in sys.modules"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, f"ringtrue {__version__}\n", "")


@pytest.mark.slow
def test_a_reader_that_has_read_enough_is_no_error(tmp_path: Path) -> None:
    from records.store import Store

    store = Store(f"sqlite:///{tmp_path}/records.db")
    big = {
        "schema": "ringtrue/result/1",
        "revision": 1,
        "state": "open",
        "site": "greywacke",
        "bay": "bay-2",
        "engine": {},
        "damper": {},
        "verdict": "incomplete",
        "opened": "",
        "padding": "x" * 20_000,
    }
    for number in range(20):
        store.put(json.dumps(big | {"inspection": f"GQ-{number}"}).encode())
    store.close()
    words = [sys.executable, "-m", "ringtrue", "export", "--records", f"sqlite:///{tmp_path}/records.db"]
    export = shlex.join(words)
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {export} | head -c 10"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, '[\n{"schema', "")


@pytest.mark.parametrize(("no_color", "coloured"), [(None, True), ("", True), ("1", False)])
def test_the_log_on_a_terminal_has_no_colours_where_none_are_wanted(
    command: types.ModuleType, monkeypatch: pytest.MonkeyPatch, no_color: str | None, coloured: bool
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    def run(_args: argparse.Namespace) -> int:
        structlog.get_logger().warning("said", gauge="indicator-1")
        return 0

    command.run = run  # type: ignore[attr-defined]  # put in its place for this test
    monkeypatch.setattr(sys, "stderr", Terminal())
    monkeypatch.delenv("NO_COLOR", raising=False)
    if no_color is not None:
        monkeypatch.setenv("NO_COLOR", no_color)
    assert main(["check"]) == 0
    said = cast(Terminal, sys.stderr).getvalue()
    assert "said" in said
    assert ("\x1b[" in said) is coloured
