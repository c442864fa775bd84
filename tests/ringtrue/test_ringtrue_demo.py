"""The demonstration as a user starts it: a process, real serial lines, the built-in broker."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest

from acquire.bay.inspection import fold
from acquire.journal.reader import JournalReader
from ringtrue.cli import main
from simulators.rig import HAUL_TRUCK_DAMPER

# The whole of it takes some 9 s at this speed on an idle machine; a busy one loses no readings yet.
SPEED = "10"
LONGEST_S = 100.0
ROOT = Path(__file__).parent.parent.parent


def command(folder: Path, *more: str) -> list[str]:
    return [sys.executable, "-m", "ringtrue", "demo", "--folder", str(folder), *more]


@contextmanager
def running(folder: Path, *more: str) -> Iterator[subprocess.Popen[str]]:
    """A demonstration that has had its first readings; killed at the end if it still runs."""
    child = subprocess.Popen(
        command(folder, *more), cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert child.stdout is not None
        assert any(line.startswith("ready") for line in child.stdout), child.communicate()[1]
        yield child
    finally:
        child.kill()
        child.communicate()


def demo(folder: Path, *more: str, **environ: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command(folder, *more),
        cwd=ROOT,
        env={**os.environ, **environ},
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )


def processes_of(folder: Path) -> list[str]:
    """The command lines of all processes that have to do with a folder."""
    lines = []
    for file in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            line = file.read_bytes().replace(b"\0", b" ").decode(errors="replace")
        except OSError:
            continue
        if str(folder) in line:
            lines.append(line)
    return lines


def assert_nothing_left(folder: Path, within_s: float = 0.0) -> None:
    until_s = time.monotonic() + within_s
    while processes_of(folder) and time.monotonic() < until_s:
        time.sleep(0.02)
    assert processes_of(folder) == []


@pytest.mark.slow
def test_two_inspections_in_one_folder_after_one_that_was_interrupted(tmp_path: Path) -> None:
    with running(tmp_path) as child:
        assert child.stdout is not None
        assert any("run-out so far" in line for line in child.stdout)
        child.send_signal(signal.SIGKILL)
        child.communicate(timeout=LONGEST_S)
    assert_nothing_left(tmp_path, within_s=10.0)

    first = demo(tmp_path, "--speed", SPEED)
    assert (first.returncode, first.stderr) == (0, "")
    assert_nothing_left(tmp_path)
    (picture,) = (tmp_path / "pictures").iterdir()
    kept = picture.read_bytes()

    second = demo(tmp_path, "--speed", SPEED, "--seed", "2")
    assert (second.returncode, second.stderr) == (0, "")
    assert picture.read_bytes() == kept
    assert main(["records", "verify", "--config", str(tmp_path / "bay.toml")]) == 0

    reader = JournalReader(tmp_path / "var" / "journal.db")
    interrupted, *inspections = reader.inspections()
    states = [fold(reader.read(inspection)) for inspection in (interrupted, *inspections)]
    reader.close()
    assert len(inspections) == 2
    assert [state.state for state in states] == ["abandoned", "signed", "signed"]
    said = " ".join(first.stdout.split())  # which is folded to the width of the terminal
    assert f"inspection {interrupted}, open since an earlier demo, is abandoned" in said
    assert sorted(file.stem for file in (tmp_path / "pictures").iterdir()) == sorted(inspections)
    ElementTree.fromstring(kept)

    said = first.stdout
    assert "locked out" in said
    assert "by hand only" in said
    assert f"inspection {inspections[0]}" in said
    assert "verdict: keep" in said
    assert str(picture) in said
    report = tmp_path / "report.pdf"
    assert f"report:  {report}" in said
    assert report.read_bytes().startswith(b"%PDF-1.7")
    shown = subprocess.run(["pdftotext", str(report), "-"], capture_output=True, text=True, check=True).stdout
    assert f"Damper inspection {inspections[1]}" in shown  # of the second: each writes its own over it
    assert "Earlier inspections of this damper" in shown
    told = subprocess.run(["pdfinfo", str(report)], capture_output=True, text=True, check=True).stdout
    assert re.search(r"^Pages: +2$", told, re.MULTILINE)
    for wanted in ("watch", "regrade", "records verify", "export", "report"):
        assert re.search(rf"{wanted} .*--config {tmp_path / 'bay.toml'}", said)
    for surface, true_mm in (
        ("rim", HAUL_TRUCK_DAMPER.rim_tir_mm()),
        ("face", HAUL_TRUCK_DAMPER.face_tir_mm()),
    ):
        figures = re.search(rf"^{surface} +[\d.]+ +([\d.]+) ± ([\d.]+) .*within$", said, re.MULTILINE)
        assert figures is not None
        assert abs(float(figures[1]) - true_mm) <= float(figures[2]) + 0.0005


@pytest.mark.slow
def test_the_broker_from_the_wheel_serves_it_as_well_and_as_soon(tmp_path: Path) -> None:
    shown = demo(tmp_path, "--speed", SPEED, RINGTRUE_MQTT__BROKER="iotcore")
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "verdict: keep" in shown.stdout
    log = (tmp_path / "var" / "daemon.log").read_text()
    begun, connected = (
        datetime.fromisoformat(found[1])
        for event in ("broker", '"connected to the broker"')
        if (found := re.search(rf"^timestamp=(\S+) .*event={event} ", log, re.MULTILINE))
    )
    # It speaks one version of MQTT only: a client that tries the other first waits 5 s for nothing.
    assert connected - begun < timedelta(seconds=5)
    assert_nothing_left(tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 130), (signal.SIGKILL, -signal.SIGKILL)]
)
def test_nothing_is_left_running_when_it_is_ended(tmp_path: Path, number: int, code: int) -> None:
    with running(tmp_path) as child:
        assert len(processes_of(tmp_path)) >= 2
        child.send_signal(number)
        _, complaints = child.communicate(timeout=LONGEST_S)
        assert (child.returncode, complaints) == (code, "")
    assert_nothing_left(tmp_path, within_s=10.0 if number == signal.SIGKILL else 0.0)


@pytest.mark.slow
def test_a_terminals_interrupt_reaches_all_and_leaves_nothing(tmp_path: Path) -> None:
    with subprocess.Popen(
        command(tmp_path),
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    ) as child:
        assert child.stdout is not None
        assert any(line.startswith("ready") for line in child.stdout)
        os.killpg(child.pid, signal.SIGINT)
        _, complaints = child.communicate(timeout=LONGEST_S)
        assert (child.returncode, complaints) == (130, "")
    assert_nothing_left(tmp_path)


@pytest.mark.slow
def test_another_one_in_the_same_folder_is_refused(tmp_path: Path) -> None:
    with running(tmp_path):
        other = demo(tmp_path)
        assert other.returncode == 3
        assert other.stderr == (
            f"ringtrue: another demo runs in {tmp_path}: wait for it, or choose another with --folder\n"
        )


@pytest.mark.slow
def test_a_daemon_that_cannot_start_is_told_in_one_line(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        failed = demo(tmp_path, RINGTRUE_MQTT__PORT=port)
    assert failed.returncode == 3
    assert failed.stderr.count("\n") == 1
    assert "the daemon ended by itself" in failed.stderr
    assert port in failed.stderr
    assert_nothing_left(tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("more", "complaint"),
    [
        (["--speed", "0"], "a number from 0.1 to 30, not '0'"),
        (["--speed", "fast"], "a number from 0.1 to 30, not 'fast'"),
        (["--seed", "x"], "invalid int value"),
    ],
)
def test_wrong_usage_is_told(tmp_path: Path, more: list[str], complaint: str) -> None:
    refused = demo(tmp_path, *more)
    assert refused.returncode == 2
    assert complaint in refused.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_a_folder_that_cannot_be_used_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    refused = demo(tmp_path / "file")
    assert refused.returncode == 3
    assert refused.stderr.startswith(f"ringtrue: {tmp_path / 'file'} cannot be written (")
    assert refused.stderr.count("\n") == 1
