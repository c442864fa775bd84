from __future__ import annotations

import contextlib
import os
import select
import socket
import struct
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from config.profile import HidPort, SerialPort
from drivers.errors import PortAbsentError, PortError, PortTakenError
from drivers.transports import OpenPort, close_port, open_port
from drivers.transports.serial import KEEPALIVE
from simulators.port import PtyPort


@contextlib.contextmanager
def opened(url: str, settings: SerialPort | None = None) -> Iterator[OpenPort]:
    port = open_port(url, settings or SerialPort())
    try:
        yield port
    finally:
        close_port(port)


def test_speed_is_set_as_the_profile_says(pty: PtyPort) -> None:
    with opened(str(pty.path), SerialPort(baud=38400)) as port:
        assert termios.tcgetattr(port.fileno())[4:6] == [termios.B38400, termios.B38400]


def test_all_settings_reach_pyserial() -> None:
    settings = SerialPort(baud=2400, bytesize=7, parity="even", stopbits=2, dtr=False, rts=False)
    with opened("loop://", settings) as port:
        assert isinstance(port, serial.SerialBase)
        assert (port.baudrate, port.bytesize, port.parity, port.stopbits) == (2400, 7, "E", 2)
        assert (port.dtr, port.rts, port.rtscts, port.xonxoff) == (False, False, False, False)


def test_a_second_opener_is_told_that_the_port_is_taken(pty: PtyPort) -> None:
    with opened(str(pty.path)), pytest.raises(PortTakenError, match="gauge is in use by another program"):
        open_port(str(pty.path), SerialPort())
    with opened(str(pty.path)):
        pass


def test_a_port_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(PortAbsentError, match="gone is not there"):
        open_port(str(tmp_path / "gone"), SerialPort())


def test_a_file_that_is_no_port(tmp_path: Path) -> None:
    (tmp_path / "notes").touch()
    with pytest.raises(PortError, match="check that it is a serial port"):
        open_port(str(tmp_path / "notes"), SerialPort())


@pytest.mark.parametrize("url", ["socket://127.0.0.1:1", "rfc2217://127.0.0.1:1"])
def test_nobody_at_the_address(url: str) -> None:
    with pytest.raises(PortAbsentError, match=r"cannot be reached \(Connection refused\): check the address"):
        open_port(url, SerialPort())


@pytest.mark.slow
def test_a_network_that_is_gone_will_be_noticed() -> None:
    with (
        socket.create_server(("127.0.0.1", 0)) as server,
        opened(f"socket://127.0.0.1:{server.getsockname()[1]}") as port,
        socket.socket(fileno=os.dup(port.fileno())) as connection,
    ):
        assert connection.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
        set_to = [connection.getsockopt(socket.IPPROTO_TCP, option) for option, _ in KEEPALIVE]
        assert set_to == [1, 1, 2]


@pytest.mark.slow
def test_a_socket_whose_far_side_broke_off_is_closed_all_the_same() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = open_port(f"socket://127.0.0.1:{server.getsockname()[1]}", SerialPort())
        far, _ = server.accept()
        # Closing with nothing to linger for resets the connection.
        far.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        far.close()
        select.select([port.fileno()], [], [])
        connection = port._socket  # type: ignore[attr-defined]  # what its library keeps
        close_port(port)
        assert connection.fileno() == -1


def test_a_port_of_another_kind_is_not_opened() -> None:
    with pytest.raises(PortError, match="usb:1-2 is no such port: expected a device such as /dev/ttyUSB0"):
        open_port("usb:1-2", SerialPort())
    with pytest.raises(PortError, match="/dev/ttyUSB0 is no such port: expected usb in its place"):
        open_port("/dev/ttyUSB0", HidPort(kind="hid"))


@pytest.mark.parametrize("url", ["nonsense://x", "socket://127.0.0.1", "loop://?x=1"])
def test_a_url_that_means_nothing(url: str) -> None:
    with pytest.raises(PortError, match=url.split(":")[0]):
        open_port(url, SerialPort())


def test_a_terminal_that_refuses_its_settings_is_a_port_error(
    pty: PtyPort, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A pseudo-terminal does so when opened again with seven bits and parity: termios.error, which
    # is no OSError.
    def refuse(*_: object) -> None:
        raise termios.error(22, "Invalid argument")

    monkeypatch.setattr(termios, "tcsetattr", refuse)
    with pytest.raises(PortError, match="Invalid argument"):
        open_port(str(pty.path), SerialPort(bytesize=7, parity="even"))


def test_failed_openings_and_closings_leave_no_descriptor(pty: PtyPort) -> None:
    before = list(Path("/proc/self/fd").iterdir())
    with opened(str(pty.path)):
        with pytest.raises(PortTakenError):
            open_port(str(pty.path), SerialPort())
        pty.unplug()
    pty.plug()
    assert len(list(Path("/proc/self/fd").iterdir())) == len(before)
