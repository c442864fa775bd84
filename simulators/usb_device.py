"""A USB gauge as its plug sees it: descriptors, and endpoints on which packets come and go."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

BULK, INTERRUPT = 2, 3
HID, VENDOR_SPECIFIC = 0x03, 0xFF
IN = 0x80


@dataclass(frozen=True, slots=True)
class SimEndpoint:
    """address: with IN for what comes from the device. packet_bytes: the most in one packet."""

    address: int
    kind: int = BULK
    packet_bytes: int = 64


@dataclass(slots=True)
class SimInterface:
    """has_driver: a driver of the kernel has it, until it is detached."""

    number: int
    endpoints: tuple[SimEndpoint, ...]
    kind: int = VENDOR_SPECIFIC
    has_driver: bool = False


@dataclass(eq=False, slots=True)
class SimUsbDevice:
    """A device that can be plugged into a SimUsbBus.

    serial, product: its strings; None where it has none. on_request gets what is written to it: the
    endpoint's address, or 0 for a report set by request, and the bytes. may_be_opened: by this user.
    claimed: the interfaces that somebody has, whoever it is.
    """

    vendor: int
    product_id: int
    interfaces: list[SimInterface]
    serial: str | None = None
    product: str | None = "simulated gauge"
    may_be_opened: bool = True
    on_request: Callable[[int, bytes], object] = lambda *_: None
    claimed: set[int] = field(default_factory=set)
    packets: dict[int, deque[bytes]] = field(default_factory=dict)
    stalled: set[int] = field(default_factory=set)
    plugged: int = 0
    """How often it was plugged in; a handle of before is of no use."""
    place: str | None = None
    changed: threading.Condition = field(default_factory=threading.Condition)

    @property
    def strings(self) -> tuple[str | None, ...]:
        """By their index; the one of index 0 is none."""
        return (None, self.product, self.serial)

    def interface(self, number: int) -> SimInterface:
        """Raises StopIteration where it has none of that number."""
        return next(some for some in self.interfaces if some.number == number)

    def endpoint(self, address: int) -> SimEndpoint:
        """Raises StopIteration where it has none of that address."""
        return next(end for some in self.interfaces for end in some.endpoints if end.address == address)

    def send(self, data: bytes, address: int = IN | 1) -> None:
        """One transfer: whole packets and then a short one, if anything is left; lost while unplugged."""
        size = self.endpoint(address).packet_bytes
        whole = len(data) - len(data) % size
        packets = [data[n : n + size] for n in range(0, whole, size)]
        if whole < len(data):
            packets.append(data[whole:])
        self.send_packets(*packets, address=address)

    def send_packets(self, *packets: bytes, address: int = IN | 1) -> None:
        """Just these, whatever their lengths."""
        with self.changed:
            if self.place is not None:
                self.packets.setdefault(address, deque()).extend(packets)
                self.changed.notify_all()

    def stall(self, address: int = IN | 1) -> None:
        """The endpoint halts until it is cleared."""
        with self.changed:
            self.stalled.add(address)
            self.changed.notify_all()
