"""The devices plugged into USB, by pyusb: where each of them is, and what it says of itself.

libusb is loaded by the first gauge that needs it, in that gauge's own thread.
"""

from __future__ import annotations

import contextlib
import errno
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from config.profile import USB_PLACE
from drivers.errors import PortError
from drivers.transports.base import UDEV, PortInfo, plainly

DEVICE = "the gauge's USB device"
"""What such a port should be, for messages."""
_loading = threading.Lock()


@dataclass(frozen=True, slots=True)
class UsbInfo:
    """One device of the bus; its serial number is fetched when it is asked for."""

    plugged: Any
    location: str
    vid: int
    pid: int

    @property
    def device(self) -> str:
        """Its name as a port."""
        return USB_PLACE + self.location

    @property
    def serial_number(self) -> str | None:
        """None where it has none. Raises PortError where this user may not open it."""
        import usb.core
        import usb.util

        try:
            with contextlib.suppress(NotImplementedError):
                self.plugged.get_active_configuration()  # which says whether it may be opened
            text: str | None = self.plugged.serial_number
        except usb.core.USBError as error:
            if error.errno in (errno.EACCES, errno.EPERM):
                raise plainly(self.device, error, DEVICE, may_not=UDEV) from error
            return None
        except ValueError:  # it has no strings
            return None
        finally:
            usb.util.dispose_resources(self.plugged)
        return text


def listed_usb(bus: Any = None) -> Iterable[PortInfo]:
    """The devices plugged into USB, hubs among them. bus: as for open_usb."""
    return (UsbInfo(device, place, device.idVendor, device.idProduct) for place, device in _plugged(bus))


def device_at(place: str, bus: Any) -> Any:
    """The one that is plugged in there, None where none is."""
    return next((device for where, device in _plugged(bus) if where == place), None)


def _plugged(bus: Any) -> Iterator[tuple[str, Any]]:
    """Every device with its place, as the kernel writes it: the bus, and the ports on the way there."""
    import usb.core

    for device in usb.core.find(find_all=True, backend=bus or _machine()):
        if device.port_numbers:
            yield f"{device.bus}-{'.'.join(map(str, device.port_numbers))}", device


def _machine() -> Any:
    """This machine's buses. Raises PortError where libusb cannot be had."""
    import libusb_package

    with _loading:  # it is loaded once, whichever gauge comes first
        bus = libusb_package.get_libusb1_backend()
    if bus is None:
        raise PortError("USB devices cannot be read: this machine has no USB, or libusb did not load")
    return bus
