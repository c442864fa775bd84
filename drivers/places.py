"""Where on this machine a USB device is plugged in, said so that it holds after a restart too.

The kernel numbers its buses in the order in which it finds them, so that `1-2` may be another socket
tomorrow. What carries the bus does not change: its controller, and the sockets from there on:

    /sys/bus/usb/devices/1-2.3 ─▶ /sys/devices/pci0000:00/0000:00:04.0/usb1/1-2/1-2.3
                                                          └ controller ┘      └ sockets ─▶ 0000:00:04.0/2.3

Of a device with several interfaces the interface follows, as the kernel has it: `0000:00:04.0/2.3:1.0`.
"""

from __future__ import annotations

from pathlib import Path

USB_DEVICES = Path("/sys/bus/usb/devices")


def place_of(location: str | None, devices: Path = USB_DEVICES) -> str | None:
    """The place of what the kernel calls so; None where it is on no USB of this machine."""
    if location is None:
        return None
    device, colon, interface = location.partition(":")
    parts = (devices / device).resolve().parts
    hubs = [n for n, part in enumerate(parts) if part == f"usb{device.partition('-')[0]}"]
    if not hubs:
        return None
    return f"{parts[hubs[-1] - 1]}/{device.partition('-')[2]}{colon}{interface}"


def is_at(location: str | None, wanted: str, devices: Path = USB_DEVICES) -> bool:
    """Whether a device that is at `location`, as the kernel has it, is where it is wanted."""
    return wanted in (location, place_of(location, devices))
