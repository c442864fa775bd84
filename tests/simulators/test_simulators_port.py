from __future__ import annotations

from pathlib import Path

import pytest
import serial

from simulators.port import PtyPort


def test_bytes_go_both_ways(tmp_path: Path) -> None:
    with PtyPort(tmp_path / "by-id" / "indicator-1") as port, serial.Serial(str(port.path), timeout=2) as far:
        port.write(b"+000.190\r\n")
        assert far.read(10) == b"+000.190\r\n"
        assert port.read() == b""
        far.write(b"?\r")
        far.flush()
        assert port.read() == b"?\r"
        assert port.dropped == 0


def test_replugging_keeps_the_identity_and_changes_the_device(tmp_path: Path) -> None:
    port = PtyPort(tmp_path / "g")
    assert not port.plugged
    port.plug()
    first = str(port.path.readlink())
    with serial.Serial(str(port.path), timeout=2) as far:
        port.unplug()
        assert not port.path.is_symlink()
        with pytest.raises(serial.SerialException):
            far.read(1)
    port.plug()
    try:
        assert str(port.path.readlink()) == port.device != first
        with serial.Serial(str(port.path), timeout=2) as far:
            port.write(b"x")
            assert far.read(1) == b"x"
    finally:
        port.unplug()


def test_what_nobody_listens_to_is_gone(tmp_path: Path) -> None:
    with PtyPort(tmp_path / "g") as port:
        port.write(b"before anybody came")
        with serial.Serial(str(port.path), timeout=2) as far:
            port.write(b"heard")
            assert far.read(5) == b"heard"
            assert far.in_waiting == 0
        port.write(b"after")
        assert port.dropped == len(b"before anybody came") + len(b"after")


def test_it_is_known_what_a_listener_has_not_taken_yet(tmp_path: Path) -> None:
    with PtyPort(tmp_path / "g") as port:
        port.write(b"before anybody came")
        assert port.unread == 0
        with serial.Serial(str(port.path), timeout=2) as far:
            port.write(b"heard")
            assert far.read(1) == b"h"
            assert port.unread == 4
            assert far.read(4) == b"eard"
            assert port.unread == 0
            port.write(b"")
            assert far.in_waiting == 0  # looked at, and still open
        assert port.unread == 0


def test_a_listener_that_does_not_read_does_not_block(tmp_path: Path) -> None:
    with PtyPort(tmp_path / "g") as port, serial.Serial(str(port.path)):
        for _ in range(100):
            port.write(bytes(1000))
        assert port.dropped > 0


def test_unplugged_means_no_bytes_and_no_error(tmp_path: Path) -> None:
    port = PtyPort(tmp_path / "g")
    port.unplug()
    port.write(b"x")
    assert (port.read(), port.dropped) == (b"", 1)
    with pytest.raises(ValueError, match="not plugged in"):
        port.fileno()


def test_what_is_no_link_is_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "g").write_text("somebody's")
    with pytest.raises(FileExistsError):
        PtyPort(tmp_path / "g").plug()
    assert (tmp_path / "g").read_text() == "somebody's"


def test_a_link_left_by_a_killed_process_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "g").symlink_to("/dev/pts/100000")
    with PtyPort(tmp_path / "g") as port:
        assert str(port.path.readlink()) == port.device
