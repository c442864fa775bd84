"""What a kind of gauge is, as data: how its port is set, framed, read and asked.

A profile is one TOML file (`config/gauges/*.toml`) and carries its own proof: bytes as they come
over the wire, with the readings they must give. Code knows archetypes, never makers: each part of a
profile is a union of models told apart by `kind`, and `drivers/` has a module for each of them.
"""

from __future__ import annotations

from config.profile.base import WIRE
from config.profile.check import Check, CrcCheck, SumCheck, XorCheck, wire_bytes
from config.profile.framing import CheckedFraming, FixedFraming, Framing, LineFraming, PacketFraming
from config.profile.gauge import GaugeProfile, Latency, Proof
from config.profile.manner import FreeRunning, KeyPress, LineKey, Manner, Requested
from config.profile.number import WireUnit
from config.profile.pattern import PatternValue
from config.profile.port import (
    USB_PLACE,
    HidPort,
    KeyboardPort,
    PlainDevice,
    PortSettings,
    SerialPort,
    UsbPort,
)
from config.profile.status import BitStatus, ByteStatus, Says, TextStatus
from config.profile.value import (
    CHARACTER,
    MIRRORED,
    DigitsValue,
    IntegerValue,
    Value,
    paired,
)

__all__ = [
    "CHARACTER",
    "MIRRORED",
    "USB_PLACE",
    "WIRE",
    "BitStatus",
    "ByteStatus",
    "Check",
    "CheckedFraming",
    "CrcCheck",
    "DigitsValue",
    "FixedFraming",
    "Framing",
    "FreeRunning",
    "GaugeProfile",
    "HidPort",
    "IntegerValue",
    "KeyPress",
    "KeyboardPort",
    "Latency",
    "LineFraming",
    "LineKey",
    "Manner",
    "PacketFraming",
    "PatternValue",
    "PlainDevice",
    "PortSettings",
    "Proof",
    "Requested",
    "Says",
    "SerialPort",
    "SumCheck",
    "TextStatus",
    "UsbPort",
    "Value",
    "WireUnit",
    "XorCheck",
    "paired",
    "wire_bytes",
]
