"""Which port an instrument is on now: by its path or URL, or by its USB identity.

Nothing here opens a port, and nothing is guessed: two devices that both match are none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Protocol

from config.profile import PortSettings
from config.sharing import Said, User, place, told
from config.usb import UsbIdentity
from drivers.errors import PortAbsentError, PortError
from drivers.places import is_at
from drivers.transports import PortInfo, is_elsewhere, listed_ports

BY_ID = "/dev/serial/by-id/"
"""Names of serial adapters by what they say of themselves."""


class Placed(Protocol):
    """What a configuration says of where something is: a gauge, or a switch."""

    @property
    def port(self) -> str | None: ...

    @property
    def usb(self) -> UsbIdentity | None: ...


Listing = Callable[[PortSettings], Iterable[PortInfo]]


def find_port(settings: Placed, port: PortSettings, listing: Listing = listed_ports) -> str:
    """What to open now, a path, URL or place of USB. port: how its profile has it opened. Raises
    PortAbsentError with the reason."""
    if settings.port is not None:
        if not is_elsewhere(settings.port) and not Path(settings.port).exists():
            raise PortAbsentError(f"{settings.port} is not there: plug the gauge in, or correct its port")
        if settings.port.startswith(BY_ID):
            _refuse_twins(settings.port, listing(port))
        return settings.port
    if settings.usb is None:
        raise PortAbsentError("neither port nor usb is configured: add one")
    matching = sorted(found.device for found in listing(port) if _matches(found, settings.usb))
    if not matching:
        raise PortAbsentError(f"no USB device with {_spelled(settings.usb)} is plugged in: plug the gauge in")
    if len(matching) > 1:
        raise PortAbsentError(
            f"{' and '.join(matching)} both have {_spelled(settings.usb)}: "
            "add serial or location to tell them apart"
        )
    return matching[0]


def _refuse_twins(name: str, listed: Iterable[PortInfo]) -> None:
    """Of two adapters that are alike such a name stands for whichever came last. Raises PortAbsentError."""
    ports, device = list(listed), str(Path(name).resolve())
    alike = [
        other.device
        for one in ports
        if one.device == device
        for other in ports
        if (other.vid, other.pid, other.serial_number) == (one.vid, one.pid, one.serial_number)
        and _interface(other) == _interface(one)
    ]
    if len(alike) > 1:
        raise PortAbsentError(
            f"{name} may be {' or '.join(sorted(alike))}, which are alike: "
            "say where it is plugged in, as ringtrue gauges prints it"
        )


def _interface(port: PortInfo) -> str:
    return (port.location or "").partition(":")[2]


def doubled_now(several: Sequence[User], listing: Listing = listed_ports) -> Iterator[Said]:
    """Each that is, as things are plugged in now, on the port of one before it: where one is named by its
    port and the other by what the device says of itself, no configuration alone shows it."""
    found: list[tuple[User, str]] = []
    if all(one.usb is None for one in several) or all(one.port is None for one in several):
        return
    for other in several:
        try:
            device = find_port(other, other.opened, listing)
        except PortError:  # it is not there, or what it is cannot be asked: its gauge tells it
            continue
        for one, where in found:
            if place(where) == place(device) and (one.usb is None) != (other.usb is None):
                yield from told(one, other, "port" if other.usb is None else "usb", device)
        found.append((other, device))


def is_meant(settings: Placed, port: PortInfo) -> bool:
    """Whether a gauge of the configuration is on this port."""
    if settings.usb is not None:
        return _matches(port, settings.usb)
    return settings.port is not None and Path(settings.port).resolve() == Path(port.device)


def _matches(port: PortInfo, usb: UsbIdentity) -> bool:
    return (
        (port.vid, port.pid) == (usb.vendor, usb.product)
        and (usb.location is None or is_at(port.location, usb.location))
        # Asked last, as it may have to be fetched from the device.
        and (usb.serial is None or usb.serial == port.serial_number)
    )


def _spelled(usb: UsbIdentity) -> str:
    parts = [f"vendor 0x{usb.vendor:04x}", f"product 0x{usb.product:04x}"]
    if usb.serial is not None:
        parts.append(f"serial {usb.serial}")
    if usb.location is not None:
        parts.append(f"location {usb.location}")
    return ", ".join(parts)
