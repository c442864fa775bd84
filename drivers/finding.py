"""Which port an instrument is on now: by its path or URL, or by its USB identity.

Nothing here opens a port, and nothing is guessed: two devices that both match are none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Protocol

from serial.tools import list_ports

from config.settings import GaugeSettings, UsbIdentity
from drivers.errors import PortAbsentError
from drivers.transports import is_elsewhere


class PortInfo(Protocol):
    """What a listing says of one port; `serial.tools.list_ports_common.ListPortInfo` is one."""

    device: str
    vid: int | None
    pid: int | None
    serial_number: str | None
    location: str | None


Listing = Callable[[], Iterable[PortInfo]]


def listed_ports() -> Iterable[PortInfo]:
    """The serial ports of this machine."""
    ports: Iterable[PortInfo] = list_ports.comports()
    return ports


def find_port(settings: GaugeSettings, listing: Listing = listed_ports) -> str:
    """The URL or path to open now. Raises PortAbsentError with the reason."""
    if settings.port is not None:
        if not is_elsewhere(settings.port) and not Path(settings.port).exists():
            raise PortAbsentError(f"{settings.port} is not there: plug the gauge in, or correct its port")
        return settings.port
    if settings.usb is None:
        raise PortAbsentError("neither port nor usb is configured: add one")
    matching = sorted(port.device for port in listing() if _matches(port, settings.usb))
    if not matching:
        raise PortAbsentError(f"no USB device with {_spelled(settings.usb)} is plugged in: plug the gauge in")
    if len(matching) > 1:
        raise PortAbsentError(
            f"{' and '.join(matching)} both have {_spelled(settings.usb)}: "
            "add serial or location to tell them apart"
        )
    return matching[0]


def _matches(port: PortInfo, usb: UsbIdentity) -> bool:
    return (
        (port.vid, port.pid) == (usb.vendor, usb.product)
        and usb.serial in (None, port.serial_number)
        and usb.location in (None, port.location)
    )


def _spelled(usb: UsbIdentity) -> str:
    parts = [f"vendor 0x{usb.vendor:04x}", f"product 0x{usb.product:04x}"]
    if usb.serial is not None:
        parts.append(f"serial {usb.serial}")
    if usb.location is not None:
        parts.append(f"location {usb.location}")
    return ", ".join(parts)
