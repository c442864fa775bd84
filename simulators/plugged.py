"""Gauges of a profile that are plugged into USB: what they send goes out as their kind of port has it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from config.profile import GaugeProfile, HidPort, KeyboardPort, UsbPort
from drivers.packets import END, bare
from simulators.keyboard import SimKeyboard
from simulators.usb_device import BULK, HID, IN, INTERRUPT, SimEndpoint, SimInterface, SimUsbDevice

VENDOR, PRODUCT = 0x1209, 0x0001
"""Numbers that are kept free for tests, as lists of USB numbers have it (common practice, no source)."""
_OUT = 2


class UsbGauge:
    """A device for a profile whose port is `usb` or `hid`; on_request gets what it is asked, without more."""

    def __init__(
        self, profile: GaugeProfile, serial: str, on_request: Callable[[bytes], object] = lambda _: None
    ) -> None:
        port = profile.port
        self._on_request = on_request
        self._prefix, self._apart = b"", port.apart
        if isinstance(port, HidPort):
            self._prefix = b"" if port.report_id is None else bytes([port.report_id])
            interface = SimInterface(0, (SimEndpoint(IN | 1, INTERRUPT),), HID, has_driver=True)
        elif isinstance(port, UsbPort):
            self._prefix = bytes(port.skip_bytes)
            interface = SimInterface(0, (SimEndpoint(IN | 1, BULK), SimEndpoint(_OUT, BULK)))
        else:
            raise ValueError(f"{profile.id} is on no port of USB")
        self.device = SimUsbDevice(VENDOR, PRODUCT, [interface], serial, on_request=self._asked)

    def send(self, frame: bytes) -> None:
        """A frame as its profile's encoder makes it."""
        packets = [bare(written) for written in frame.split(END)] if self._apart else [frame]
        for data in packets:
            if data:
                self.device.send(self._prefix + data)

    def _asked(self, address: int, data: bytes) -> None:
        self._on_request(data.removeprefix(self._prefix) if address == 0 else data)


class TypingGauge:
    """A board for a profile whose port is `keyboard`."""

    def __init__(self, profile: GaugeProfile, path: Path) -> None:
        if not isinstance(profile.port, KeyboardPort):
            raise ValueError(f"{profile.id} does not type")
        self.board = SimKeyboard(path, profile.port.layout)

    def send(self, frame: bytes) -> None:
        """A frame as its profile's encoder makes it."""
        self.board.type(frame.decode("latin-1"))
