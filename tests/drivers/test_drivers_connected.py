from __future__ import annotations

import fcntl
import os
from pathlib import Path

import pytest

from drivers.connected import LOCKS, Connected, connected, known_by_serial
from drivers.connected import _held as held
from drivers.connected import _is_locked as is_locked
from drivers.connected import _locked as locked
from simulators.port import PtyPort


def device(devices: Path, name: str, interfaces: dict[str, tuple[str, str, str | None]], **said: str) -> None:
    """As sysfs has it: what the device says, and of each interface class, protocol and driver."""
    for file, text in {"idVendor": "1209", "idProduct": "0002", **said}.items():
        (devices / name).mkdir(exist_ok=True)
        (devices / name / file).write_text(f"{text}\n")
    for interface, (number, protocol, driver) in interfaces.items():
        folder = devices / f"{name}:{interface}"
        folder.mkdir()
        (folder / "bInterfaceClass").write_text(f"{number}\n")
        (folder / "bInterfaceProtocol").write_text(f"{protocol}\n")
        if driver is not None:
            (devices.parent / driver).mkdir(exist_ok=True)
            (folder / "driver").symlink_to(devices.parent / driver)


@pytest.fixture
def devices(tmp_path: Path) -> Path:
    found = tmp_path / "devices"
    found.mkdir()
    return found


def apart(devices: Path) -> list[Connected]:
    return [one for one in connected(devices) if one.kind in ("hid", "usb")]


def test_devices_that_no_driver_makes_a_port_of_are_told_with_their_own_words(devices: Path) -> None:
    device(devices, "1-1", {"1.0": ("03", "00", "usbhid")}, serial="A7", product='A "quoted"\x1b[31m gauge')
    device(devices, "1-2", {"1.0": ("ff", "00", None)})
    (hid, bulk) = apart(devices)
    assert (hid.kind, hid.device, hid.vid, hid.pid, hid.serial_number) == ("hid", "usb:1-1", 0x1209, 2, "A7")
    assert hid.own_words == "A quoted[31m gauge"
    assert (bulk.kind, bulk.device, bulk.serial_number, bulk.own_words) == ("usb", "usb:1-2", None, None)
    assert not hid.is_taken
    assert not bulk.is_taken


def test_what_is_a_port_of_another_kind_or_no_gauge_is_not_told_again(devices: Path) -> None:
    device(devices, "1-1", {"1.0": ("ff", "00", "ftdi_sio")})
    device(devices, "1-2", {"1.0": ("03", "01", "usbhid")})
    device(devices, "1-3", {"1.0": ("03", "02", "usbhid")})
    device(devices, "1-4", {"1.0": ("09", "00", "hub")})
    assert apart(devices) == []


def test_one_that_a_program_has_claimed_is_taken(devices: Path) -> None:
    device(devices, "1-1", {"1.0": ("ff", "00", "usbfs")})
    assert [one.is_taken for one in apart(devices)] == [True]


def test_a_port_that_a_program_has_locked_is_taken_and_not_opened_for_that(pty: PtyPort) -> None:
    path = Path(pty.device)
    assert not is_locked(path, locked(LOCKS))
    holder = os.open(path, os.O_RDWR | os.O_NOCTTY)
    try:
        fcntl.flock(holder, fcntl.LOCK_EX | fcntl.LOCK_NB)
        assert is_locked(path, locked(LOCKS))
    finally:
        os.close(holder)
    assert not is_locked(path, locked(LOCKS))
    assert not is_locked(path.with_name("gone"), locked(LOCKS))


def test_a_serial_number_tells_only_where_no_other_has_it() -> None:
    one = Connected("/dev/ttyUSB0", "serial", 0x1209, 1, "0001", "1-1")
    other = Connected("/dev/ttyUSB1", "serial", 0x1209, 1, "0001", "1-2")
    third = Connected("/dev/ttyUSB2", "serial", 0x1209, 2, "0001", "1-3")
    nameless = Connected("/dev/ttyUSB3", "serial", 0x1209, 3, None, "1-4")
    everything = [one, other, third, nameless]
    assert [known_by_serial(some, everything) for some in everything] == [False, False, True, False]


def test_a_device_that_a_program_of_ours_has_open_is_held(pty: PtyPort) -> None:
    assert pty.device not in held()
    holder = os.open(pty.device, os.O_RDWR | os.O_NOCTTY)
    try:
        assert pty.device in held()
    finally:
        os.close(holder)
