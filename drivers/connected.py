"""What is plugged in that a gauge may be, as the kernel tells it; nothing is opened or claimed for that.

Who holds a port is read where the kernel lists it: locks of files in /proc/locks, what each program of ours
has open in /proc, interfaces that a program has claimed by their driver `usbfs`.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from serial.tools import list_ports

from drivers.places import USB_DEVICES, place_of
from drivers.transports.keyboard import listed_keyboards

Kind = Literal["serial", "keyboard", "hid", "usb"]
LOCKS = Path("/proc/locks")
# bInterfaceClass and, of the HID class, bInterfaceProtocol: 1 is a keyboard, 2 a mouse (HID 1.11, 4.3).
_HID, _VENDOR_SPECIFIC, _KEYBOARD, _MOUSE = 0x03, 0xFF, 1, 2
# What a device calls itself is its own affair; so much of it is shown.
OWN_WORDS_MAX = 60


@dataclass(frozen=True, slots=True)
class Connected:
    """One port, as a listing says it and more. location: as the kernel numbers it now. own_words: what the
    device calls itself. is_taken: another program has it. beside: where a HID may be listened to without
    taking it from its driver."""

    device: str
    kind: Kind
    vid: int | None = None
    pid: int | None = None
    serial_number: str | None = None
    location: str | None = None
    own_words: str | None = None
    is_taken: bool = False
    beside: str | None = None

    @property
    def place(self) -> str | None:
        """Where it is plugged in."""
        return place_of(self.location)

    @property
    def where(self) -> str | None:
        """The place where that is known, else the kernel's number."""
        return self.place or self.location


def connected(devices: Path = USB_DEVICES, locks: Path = LOCKS) -> list[Connected]:
    """All of this machine, in a fixed order."""
    taken, held = _locked(locks), _held()
    return [
        replace(one, is_taken=one.is_taken or one.device in held or _is_locked(Path(one.device), taken))
        for one in (*_serial(), *_keyboards(devices), *_apart(devices))
    ]


def known_by_serial(one: Connected, others: Iterable[Connected]) -> bool:
    """Whether its serial number tells it from all others that are plugged in."""
    return one.serial_number is not None and not any(
        (other.vid, other.pid, other.serial_number) == (one.vid, one.pid, one.serial_number)
        for other in others
        if other is not one
    )


def _serial() -> Iterator[Connected]:
    for found in sorted(list_ports.comports(), key=lambda some: str(some.device)):
        yield Connected(
            found.device, "serial", found.vid, found.pid, found.serial_number, found.location,
            _own_words(found.product),
        )  # fmt: skip


def _keyboards(devices: Path) -> Iterator[Connected]:
    for found in listed_keyboards():
        words = _line(devices / (found.location or "") / "product")
        yield Connected(
            found.device, "keyboard", found.vid, found.pid, found.serial_number, found.location,
            _own_words(words),
        )  # fmt: skip


def _apart(devices: Path) -> Iterator[Connected]:
    """Devices with interfaces that no driver makes a port of."""
    for device in sorted(devices.glob("*-*")):
        if ":" in device.name:
            continue
        for interface in sorted(devices.glob(f"{device.name}:*")):
            driver = (interface / "driver").resolve().name if (interface / "driver").exists() else None
            kind = _kind_of(interface, driver)
            if kind is not None:
                yield Connected(
                    f"usb:{device.name}",
                    kind,
                    _hex(device / "idVendor"),
                    _hex(device / "idProduct"),
                    _line(device / "serial"),
                    device.name,
                    _own_words(_line(device / "product")),
                    driver == "usbfs",
                    next((f"/dev/{node.name}" for node in interface.glob("*/hidraw/hidraw*")), None),
                )
                break


def _kind_of(interface: Path, driver: str | None) -> Kind | None:
    number = _hex(interface / "bInterfaceClass")
    if number == _HID and _hex(interface / "bInterfaceProtocol") not in (_KEYBOARD, _MOUSE):
        return "hid"
    return "usb" if number == _VENDOR_SPECIFIC and driver in (None, "usbfs") else None


def _locked(locks: Path) -> set[tuple[int, int, int]]:
    """Device and inode of every file that somebody has locked."""
    found = set()
    for line in (_text(locks) or "").splitlines():
        words: Sequence[str] = line.split()
        if len(words) >= 8 and words[1] == "FLOCK":
            major, minor, inode = words[5].split(":")
            found.add((int(major, 16), int(minor, 16), int(inode)))
    return found


def _held() -> set[str]:
    """Every device that a program has open, of those that this user may look at."""
    found = set()
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):  # it is somebody else's, or has ended
            for opened in (process / "fd").iterdir():
                with contextlib.suppress(OSError):  # it was closed
                    found.add(str(opened.readlink()))
    return {path for path in found if path.startswith("/dev/")}


def _is_locked(path: Path, taken: set[tuple[int, int, int]]) -> bool:
    try:
        seen = path.stat()
    except OSError:
        return False
    return (os.major(seen.st_dev), os.minor(seen.st_dev), seen.st_ino) in taken


def _own_words(text: str | None) -> str | None:
    letters = "".join(letter for letter in text or "" if letter.isprintable() and letter != '"').strip()
    return letters[:OWN_WORDS_MAX] or None


def _hex(file: Path) -> int | None:
    text = _line(file)
    return int(text, 16) if text else None


def _line(file: Path) -> str | None:
    text = _text(file)
    return text.strip() or None if text is not None else None


def _text(file: Path) -> str | None:
    try:
        return file.read_text(errors="replace")
    except OSError:  # it was pulled out meanwhile, or is not for us
        return None
