"""A USB bus in memory, as pyusb's backend: devices are plugged in and pulled out, stall, refuse, keep silent.

What each call may raise is as libusb's documentation has it: no such device after it was pulled out, busy
where a driver or another program has the interface, a pipe error from a halted endpoint, an overflow where a
packet is longer than what was asked for.
"""

from __future__ import annotations

import array
import errno
import time
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import usb.backend
from usb.core import USBError, USBTimeoutError

from simulators.usb_device import IN, SimEndpoint, SimInterface, SimUsbDevice

# Standard requests and descriptors of USB 2.0, 9.4 and 9.6.
_GET_DESCRIPTOR, _STRING = 0x06, 3
_ENGLISH = 0x0409
_CLASS_TO_INTERFACE, _SET_REPORT = 0x21, 0x09


class SimHandle:
    """An opened device; of no use once that was pulled out, also when it is back."""

    def __init__(self, device: SimUsbDevice) -> None:
        self.device = device
        self.claimed: set[int] = set()
        self._plugged = device.plugged

    def check(self) -> None:
        """Raises USBError where the device is not the one that was opened."""
        if self.device.place is None or self.device.plugged != self._plugged:
            raise USBError("No such device (it may have been disconnected)", None, errno.ENODEV)


class SimUsbBus(usb.backend.IBackend):  # type: ignore[misc]  # pyusb tells no types
    """Places are written as the kernel does, such as 1-2.3."""

    def __init__(self) -> None:
        super().__init__()
        self._devices: dict[str, SimUsbDevice] = {}
        self.opened: list[SimHandle] = []
        """Handles that nobody has closed."""

    def plug(self, device: SimUsbDevice, place: str) -> None:
        """Plug it in there. A driver that was detached has its interfaces again."""
        with device.changed:
            if place in self._devices:
                raise ValueError(f"{place} is taken")
            device.place = place
            device.plugged += 1
            self._devices[place] = device

    def unplug(self, device: SimUsbDevice) -> None:
        """Pull it out: what it had to send is gone."""
        with device.changed:
            if device.place is not None:
                del self._devices[device.place]
            device.place = None
            device.packets.clear()
            device.stalled.clear()
            device.claimed.clear()
            device.changed.notify_all()

    def enumerate_devices(self) -> Iterator[SimUsbDevice]:
        return iter(list(self._devices.values()))

    def get_parent(self, dev: SimUsbDevice) -> None:
        return None

    def get_device_descriptor(self, dev: SimUsbDevice) -> Any:
        bus, _, ports = (dev.place or "0-").partition("-")
        numbers = tuple(int(port) for port in ports.split(".") if port)
        strings = [index if text is not None else 0 for index, text in enumerate(dev.strings)]
        return SimpleNamespace(
            bLength=18, bDescriptorType=1, bcdUSB=0x0200, bDeviceClass=0, bDeviceSubClass=0,
            bDeviceProtocol=0, bMaxPacketSize0=64,
            idVendor=dev.vendor, idProduct=dev.product_id, bcdDevice=0x0100,
            iManufacturer=0, iProduct=strings[1], iSerialNumber=strings[2], bNumConfigurations=1,
            address=dev.plugged, bus=int(bus), port_number=numbers[-1] if numbers else None,
            port_numbers=numbers or None, speed=2,
        )  # fmt: skip

    def get_configuration_descriptor(self, dev: SimUsbDevice, config: int) -> Any:
        if config:
            raise IndexError(config)
        return SimpleNamespace(
            bLength=9, bDescriptorType=2, wTotalLength=9, bNumInterfaces=len(dev.interfaces),
            bConfigurationValue=1, iConfiguration=0, bmAttributes=0x80, bMaxPower=50, extra_descriptors=b"",
        )  # fmt: skip

    def get_interface_descriptor(self, dev: SimUsbDevice, intf: int, alt: int, config: int) -> Any:
        interface: SimInterface = dev.interfaces[intf]
        if alt or config:
            raise IndexError(alt)
        return SimpleNamespace(
            bLength=9, bDescriptorType=4, bInterfaceNumber=interface.number, bAlternateSetting=0,
            bNumEndpoints=len(interface.endpoints), bInterfaceClass=interface.kind, bInterfaceSubClass=0,
            bInterfaceProtocol=0, iInterface=0, extra_descriptors=b"",
        )  # fmt: skip

    def get_endpoint_descriptor(self, dev: SimUsbDevice, ep: int, intf: int, alt: int, config: int) -> Any:
        endpoint: SimEndpoint = dev.interfaces[intf].endpoints[ep]
        return SimpleNamespace(
            bLength=7, bDescriptorType=5, bEndpointAddress=endpoint.address, bmAttributes=endpoint.kind,
            wMaxPacketSize=endpoint.packet_bytes, bInterval=1, bRefresh=0, bSynchAddress=0,
            extra_descriptors=b"",
        )  # fmt: skip

    def open_device(self, dev: SimUsbDevice) -> SimHandle:
        handle = SimHandle(dev)
        handle.check()
        if not dev.may_be_opened:
            raise USBError("Access denied (insufficient permissions)", None, errno.EACCES)
        self.opened.append(handle)
        return handle

    def close_device(self, dev_handle: SimHandle) -> None:
        self.opened.remove(dev_handle)
        dev_handle.device.claimed -= dev_handle.claimed

    def get_configuration(self, dev_handle: SimHandle) -> int:
        dev_handle.check()
        return 1

    def claim_interface(self, dev_handle: SimHandle, intf: int) -> None:
        dev_handle.check()
        device = dev_handle.device
        if device.interface(intf).has_driver or intf in device.claimed:
            raise USBError("Resource busy", None, errno.EBUSY)
        device.claimed.add(intf)
        dev_handle.claimed.add(intf)

    def release_interface(self, dev_handle: SimHandle, intf: int) -> None:
        dev_handle.check()
        dev_handle.claimed.discard(intf)
        dev_handle.device.claimed.discard(intf)

    def is_kernel_driver_active(self, dev_handle: SimHandle, intf: int) -> bool:
        dev_handle.check()
        return dev_handle.device.interface(intf).has_driver

    def detach_kernel_driver(self, dev_handle: SimHandle, intf: int) -> None:
        dev_handle.check()
        dev_handle.device.interface(intf).has_driver = False

    def attach_kernel_driver(self, dev_handle: SimHandle, intf: int) -> None:
        dev_handle.check()
        if intf in dev_handle.device.claimed:
            raise USBError("Resource busy", None, errno.EBUSY)
        dev_handle.device.interface(intf).has_driver = True

    def clear_halt(self, dev_handle: SimHandle, ep: int) -> None:
        dev_handle.check()
        dev_handle.device.stalled.discard(ep)

    def ctrl_transfer(
        self,
        dev_handle: SimHandle,
        bmRequestType: int,  # noqa: N803 as pyusb names it
        bRequest: int,  # noqa: N803 names of the library that it stands in for
        wValue: int,  # noqa: N803 names of the library that it stands in for
        wIndex: int,  # noqa: N803 names of the library that it stands in for
        data: array.array[int],
        timeout: int,
    ) -> int:
        dev_handle.check()
        device = dev_handle.device
        if (bmRequestType, bRequest, wValue >> 8) == (IN, _GET_DESCRIPTOR, _STRING):
            return _filled(data, _string(device, wValue & 0xFF))
        if (bmRequestType, bRequest) == (_CLASS_TO_INTERFACE, _SET_REPORT):
            device.on_request(0, data.tobytes())
            return len(data)
        raise USBError("Pipe error", None, errno.EPIPE)

    def bulk_write(
        self, dev_handle: SimHandle, ep: int, intf: int, data: array.array[int], timeout: int
    ) -> int:
        dev_handle.check()
        device = dev_handle.device
        if ep in device.stalled:
            raise USBError("Pipe error", None, errno.EPIPE)
        device.on_request(ep, data.tobytes())
        return len(data)

    def bulk_read(
        self, dev_handle: SimHandle, ep: int, intf: int, buff: array.array[int], timeout: int
    ) -> int:
        """Packets until one is short or the room is full; what has come by the time-out is not lost."""
        device, give_up_s, filled = dev_handle.device, time.monotonic() + timeout / 1e3, 0
        packet_bytes = device.endpoint(ep).packet_bytes
        with device.changed:
            while True:
                dev_handle.check()
                if ep in device.stalled:
                    raise USBError("Pipe error", None, errno.EPIPE)
                come = device.packets.get(ep)
                if come:
                    packet = come.popleft()
                    if len(packet) > len(buff) - filled:
                        raise USBError("Overflow", None, errno.EOVERFLOW)
                    buff[filled : filled + len(packet)] = array.array("B", packet)
                    filled += len(packet)
                    if len(packet) < packet_bytes or filled == len(buff):
                        return filled
                elif not device.changed.wait(max(give_up_s - time.monotonic(), 0)):
                    if filled:
                        return filled
                    raise USBTimeoutError("Operation timed out", None, errno.ETIMEDOUT)

    intr_write, intr_read = bulk_write, bulk_read


def _filled(room: array.array[int], data: bytes) -> int:
    size = min(len(room), len(data))
    room[:size] = array.array("B", data[:size])
    return size


def _string(device: SimUsbDevice, index: int) -> bytes:
    """A string's descriptor; of index 0 the languages. Raises USBError as a device that has none stalls."""
    if not any(device.strings) or index >= len(device.strings):
        raise USBError("Pipe error", None, errno.EPIPE)
    text = device.strings[index]
    data = _ENGLISH.to_bytes(2, "little") if index == 0 else (text or "").encode("utf-16-le")
    return bytes([2 + len(data), _STRING]) + data
