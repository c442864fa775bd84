"""Endpoints and reports of a USB device, by pyusb, which the first gauge that needs it loads."""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Callable
from typing import Any

from config.profile import USB_PLACE, HidPort, UsbPort
from drivers.errors import PortAbsentError, PortError
from drivers.packets import set_apart
from drivers.transports.base import UDEV, OpenPort, plainly
from drivers.transports.usb_devices import DEVICE, device_at

# How long one read waits, s: what was read 45 ms late is then known to be (drivers.reader).
WAIT_S = 0.02
# A request is a few bytes; a device that takes longer for them is stuck.
WRITE_TIMEOUT_MS = 1_000
# So many stalls one after another, each cleared, are a device that does not work.
STALLS_MAX = 3

_IN, _BULK, _INTERRUPT = 0x80, 2, 3
_HID, _VENDOR_SPECIFIC = 0x03, 0xFF
# Class request to an interface, SET_REPORT, of an output report (HID 1.11, 7.2.2).
_TO_INTERFACE, _SET_REPORT, _OUTPUT = 0x21, 0x09, 0x02

Send = Callable[[bytes], None]


class UsbReadings:
    """An open interface. heard: what of a transfer is the gauge's, perhaps nothing. send: how it is asked."""

    def __init__(
        self, device: Any, number: int, endpoint: Any, size: int, heard: Callable[[bytes], bytes], send: Send
    ) -> None:
        self._device = device
        self._number = number
        self._endpoint = endpoint
        self._size = size
        self._heard = heard
        self._send = send
        self._stalls = 0
        self.took_from_driver = False
        self.wait_s = WAIT_S
        self.in_waiting = 0

    def fileno(self) -> int:
        """There is none."""
        raise OSError("pyusb gives no descriptor")

    def read(self, size: int = 1, /) -> bytes:  # noqa: ARG002 whole transfers, as they came
        """One transfer; nothing after WAIT_S."""
        import usb.core

        try:
            data = self._endpoint.read(self._size, round(WAIT_S * 1e3)).tobytes()
        except usb.core.USBTimeoutError:
            return b""
        except usb.core.USBError as error:
            self._stalls += 1
            if error.errno != errno.EPIPE or self._stalls > STALLS_MAX:
                raise
            self._endpoint.clear_halt()
            return b""
        self._stalls = 0
        return self._heard(data)

    def write(self, data: bytes, /) -> int:
        """As one transfer. Raises OSError where the device does not take it."""
        self._send(data)
        return len(data)

    def close(self) -> None:
        """Hands the interface back, to its driver where one had it."""
        import usb.util

        with contextlib.suppress(OSError):
            usb.util.release_interface(self._device, self._number)
        if self.took_from_driver:
            with contextlib.suppress(OSError):
                self._device.attach_kernel_driver(self._number)
        usb.util.dispose_resources(self._device)


def open_usb(name: str, settings: UsbPort | HidPort, bus: Any = None) -> OpenPort:
    """Open `usb:PLACE` for ourselves alone. bus: pyusb's backend, the machine's own by default.

    Raises PortAbsentError, PortTakenError or PortError, each saying what to do.
    """
    import usb.core
    import usb.util

    device = device_at(name.removeprefix(USB_PLACE), bus)
    if device is None:
        raise PortAbsentError(f"{name} is not there: plug the gauge in, or correct its port")
    try:
        port = _opened(name, device, settings)
        if device.is_kernel_driver_active(port._number):
            device.detach_kernel_driver(port._number)
            port.took_from_driver = True
        usb.util.claim_interface(device, port._number)
    except (usb.core.USBError, NotImplementedError) as error:
        usb.util.dispose_resources(device)
        raise plainly(name, error, DEVICE, may_not=UDEV) from error
    except PortError:
        usb.util.dispose_resources(device)
        raise
    return port


def sends_reports(name: str, bus: Any = None) -> bool:
    """Whether `usb:PLACE` is a HID that sends reports, and no endpoints of its own. Raises PortError."""
    import usb.core
    import usb.util

    device = device_at(name.removeprefix(USB_PLACE), bus)
    if device is None:
        raise PortAbsentError(f"{name} is not there: plug the gauge in, or correct its port")
    try:
        kinds = {some.bInterfaceClass for some in device.get_active_configuration()}
    except (usb.core.USBError, NotImplementedError) as error:
        raise plainly(name, error, DEVICE, may_not=UDEV) from error
    finally:
        usb.util.dispose_resources(device)
    return _HID in kinds and _VENDOR_SPECIFIC not in kinds


def _opened(name: str, device: Any, settings: UsbPort | HidPort) -> UsbReadings:
    """Raises PortError where the device has not what its profile says."""
    interfaces = [some for some in device.get_active_configuration() if some.bAlternateSetting == 0]
    is_hid = isinstance(settings, HidPort)
    wanted = "reports" if is_hid else "readings"
    fitting = [
        some
        for some in interfaces
        if settings.interface in (None, some.bInterfaceNumber)
        and (some.bInterfaceClass == _HID or not is_hid)
        and _ins(some, settings)
    ]
    if len(fitting) > 1:
        own = [some for some in fitting if some.bInterfaceClass == _VENDOR_SPECIFIC]
        fitting = own if len(own) == 1 else fitting
    if len(fitting) != 1:
        raise PortError(f"{name} has {_numbered(fitting)} for {wanted}: say which in its profile's port")
    (interface,) = fitting
    ins = _ins(interface, settings)
    if len(ins) != 1:
        found = " and ".join(f"0x{some.bEndpointAddress:02x}" for some in ins)
        raise PortError(f"{name} has endpoints {found}: say which in its profile's port")
    packet, number = ins[0].wMaxPacketSize & 0x7FF, interface.bInterfaceNumber
    if isinstance(settings, HidPort):
        size = -(-(settings.report_bytes or packet) // packet) * packet
        prefix = b"" if settings.report_id is None else bytes([settings.report_id])
        return UsbReadings(
            device, number, ins[0], size, _reports(prefix), _reporting(device, interface, prefix)
        )
    return UsbReadings(
        device, number, ins[0], packet, _bytes(settings), _writing(name, interface, settings.out_endpoint)
    )


def _ins(interface: Any, settings: UsbPort | HidPort) -> list[Any]:
    kinds = (_INTERRUPT,) if isinstance(settings, HidPort) else (_BULK, _INTERRUPT)
    asked = None if isinstance(settings, HidPort) else settings.endpoint
    return [
        some
        for some in interface
        if some.bEndpointAddress & _IN
        and some.bmAttributes & 3 in kinds
        and asked in (None, some.bEndpointAddress)
    ]


def _numbered(interfaces: list[Any]) -> str:
    if not interfaces:
        return "no interface"
    return "interfaces " + " and ".join(str(some.bInterfaceNumber) for some in interfaces)


def _bytes(settings: UsbPort) -> Callable[[bytes], bytes]:
    def heard(data: bytes) -> bytes:
        data = data[settings.skip_bytes :]
        return set_apart(data) if data and settings.apart else data

    return heard


def _reports(prefix: bytes) -> Callable[[bytes], bytes]:
    def heard(data: bytes) -> bytes:
        report = data.removeprefix(prefix)
        return set_apart(report) if report and data.startswith(prefix) else b""

    return heard


def _outs(interface: Any, asked: int | None = None) -> list[Any]:
    return [
        some
        for some in interface
        if not some.bEndpointAddress & _IN
        and some.bmAttributes & 3 in (_BULK, _INTERRUPT)
        and asked in (None, some.bEndpointAddress)
    ]


def _reporting(device: Any, interface: Any, prefix: bytes) -> Send:
    """By the interface's own endpoint, else by a request to it."""
    outs = _outs(interface)
    what = _OUTPUT << 8 | (prefix[0] if prefix else 0)

    def send(data: bytes) -> None:
        if outs:
            _written(outs[0], prefix + data)
        else:
            number = interface.bInterfaceNumber
            device.ctrl_transfer(_TO_INTERFACE, _SET_REPORT, what, number, prefix + data, WRITE_TIMEOUT_MS)

    return send


def _writing(name: str, interface: Any, asked: int | None) -> Send:
    outs = _outs(interface, asked)

    def send(data: bytes) -> None:
        if len(outs) != 1:
            raise OSError(f"{name} has {len(outs)} endpoints for requests: say which in its profile's port")
        _written(outs[0], data)

    return send


def _written(endpoint: Any, data: bytes) -> None:
    """One that is halted is cleared first: it stays so however often it is opened anew."""
    import usb.core

    try:
        endpoint.write(data, WRITE_TIMEOUT_MS)
    except usb.core.USBError as error:
        if error.errno != errno.EPIPE:
            raise
        endpoint.clear_halt()
        endpoint.write(data, WRITE_TIMEOUT_MS)
