"""The far sides of what is plugged into USB: a bus in memory, and a board of keys on a pipe."""

from __future__ import annotations

import asyncio
from pathlib import Path

from config.profile import (
    GaugeProfile,
    HidPort,
    KeyboardPort,
    LineFraming,
    PacketFraming,
    PortSettings,
    UsbPort,
)
from drivers.transports import OpenPort
from drivers.transports.keyboard import open_keyboard
from drivers.transports.usb import open_usb
from simulators.keyboard import SimKeyboard
from simulators.usb_bus import SimUsbBus
from simulators.usb_device import HID, IN, INTERRUPT, SimEndpoint, SimInterface, SimUsbDevice

PLACE = "1-2"


class UsbFarSide:
    """A device with one bulk endpoint each way."""

    port = f"usb:{PLACE}"
    settings: UsbPort | HidPort = UsbPort(kind="usb")

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._asked = asyncio.StreamReader()
        self.bus = SimUsbBus()
        self.device = SimUsbDevice(0x1234, 1, [self.interface()], serial="A7", on_request=self._hear)

    def interface(self) -> SimInterface:
        return SimInterface(0, (SimEndpoint(IN | 1), SimEndpoint(2)))

    def suited(self, kind: GaugeProfile) -> GaugeProfile:
        """The profile as a gauge on this line would have it."""
        return kind

    def opener(self, url: str, port_settings: PortSettings) -> OpenPort:
        return open_usb(url, self.settings, self.bus)

    async def plug(self) -> None:
        self.bus.plug(self.device, PLACE)

    async def unplug(self) -> None:
        self.bus.unplug(self.device)

    async def ready(self) -> None:
        return

    def send(self, data: bytes) -> None:
        self.device.send(data)

    async def asked(self, size: int) -> bytes:
        return await self._asked.readexactly(size)

    def _hear(self, address: int, data: bytes) -> None:
        self._loop.call_soon_threadsafe(self._asked.feed_data, data)


class PacketFarSide(UsbFarSide):
    """One that sends each reading as a transfer, without an end of its own."""

    settings: UsbPort | HidPort = UsbPort(kind="usb", apart=True)

    def suited(self, kind: GaugeProfile) -> GaugeProfile:
        return kind.model_copy(update={"framing": PacketFraming(kind="packet", max_bytes=32)})

    def send(self, data: bytes) -> None:
        for line in data.splitlines():
            self.device.send(line)


class HidFarSide(PacketFarSide):
    """One whose reports a driver of the kernel has; it is asked by a request to its interface."""

    settings = HidPort(kind="hid")

    def interface(self) -> SimInterface:
        return SimInterface(0, (SimEndpoint(IN | 1, INTERRUPT, 16),), HID, has_driver=True)


class KeyboardFarSide:
    """Its Enter is what other lines end with."""

    def __init__(self, folder: Path) -> None:
        self.port = str(folder / "event5")
        self.board = SimKeyboard(folder / "event5")

    def suited(self, kind: GaugeProfile) -> GaugeProfile:
        assert isinstance(kind.framing, LineFraming)
        framing = kind.framing.model_copy(update={"terminator": "\n"})
        return kind.model_copy(update={"framing": framing})

    def opener(self, url: str, port_settings: PortSettings) -> OpenPort:
        return open_keyboard(url, KeyboardPort(kind="keyboard"), grab=lambda _: None, settle_s=0)

    async def plug(self) -> None:
        self.board.plug()

    async def unplug(self) -> None:
        self.board.unplug()

    async def ready(self) -> None:
        return

    def send(self, data: bytes) -> None:
        self.board.type(data.decode("latin-1").replace("\r\n", "\n").replace("\r", "\n"))

    async def asked(self, size: int) -> bytes:
        raise NotImplementedError("nothing can be sent to it")
