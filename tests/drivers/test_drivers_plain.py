"""Devices read as they stand: what the suite of all transports does not ask."""

from __future__ import annotations

import os
import termios
from pathlib import Path

import pytest

from config.profile import PlainDevice
from drivers.errors import PortAbsentError, PortError, PortTakenError
from drivers.transports import close_port, open_port
from simulators.port import PtyPort

PLAIN = PlainDevice(kind="plain")


def test_bytes_come_and_go_as_they_are(pty: PtyPort) -> None:
    port = open_port(str(pty.path), PLAIN)
    assert port.read(10) == b""
    pty.write(b"\x03\x04\r\n\xff")
    assert port.read() == b"\x03\x04\r\n\xff"
    assert port.write(b"\x00\r\x7f") == 3
    assert pty.read() == b"\x00\r\x7f"
    close_port(port)


def test_a_terminal_sends_nothing_back_and_keeps_its_speed(pty: PtyPort) -> None:
    other = os.open(pty.path, os.O_RDWR | os.O_NOCTTY)
    settings = termios.tcgetattr(other)
    settings[3] |= termios.ECHO | termios.ICANON
    termios.tcsetattr(other, termios.TCSANOW, settings)
    port = open_port(str(pty.path), PLAIN)
    pty.write(b"+0.1")
    assert port.read() == b"+0.1"
    assert pty.read() == b""
    assert termios.tcgetattr(other)[4:6] == settings[4:6]
    close_port(port)
    os.close(other)


def test_a_second_opener_is_told_that_it_is_taken(pty: PtyPort) -> None:
    port = open_port(str(pty.path), PLAIN)
    with pytest.raises(PortTakenError, match="in use by another program"):
        open_port(str(pty.path), PLAIN)
    close_port(port)
    close_port(open_port(str(pty.path), PLAIN))


def test_what_is_no_device_is_told_and_left_alone(tmp_path: Path) -> None:
    with pytest.raises(PortAbsentError, match="gone is not there"):
        open_port(str(tmp_path / "gone"), PLAIN)
    notes = tmp_path / "notes"
    notes.write_text("kept")
    with pytest.raises(PortError, match="check that it is a character device, as its profile says plain"):
        open_port(str(notes), PLAIN)
    assert notes.read_text() == "kept"


def test_failed_openings_and_closings_leave_no_descriptor(pty: PtyPort, tmp_path: Path) -> None:
    (tmp_path / "notes").touch()
    before = list(Path("/proc/self/fd").iterdir())
    port = open_port(str(pty.path), PLAIN)
    for wrong in (pty.path, tmp_path / "notes", tmp_path / "gone"):
        with pytest.raises(PortError):
            open_port(str(wrong), PLAIN)
    close_port(port)
    close_port(port)
    with pytest.raises(OSError, match="closed"):
        port.fileno()
    assert len(list(Path("/proc/self/fd").iterdir())) == len(before)
