"""What a kind of gauge is, as data: how its port is set, framed, read and asked.

A profile is one TOML file (`config/gauges/*.toml`) and carries its own proof: bytes as they come
over the wire, with the readings they must give. Code knows archetypes, never makers: each part of a
profile is a union of models told apart by `kind`, and `drivers/` has a module for each of them.
"""

from __future__ import annotations

from config.profile.base import WIRE
from config.profile.framing import FixedFraming, Framing, LineFraming
from config.profile.gauge import GaugeProfile, Latency, Proof
from config.profile.manner import FreeRunning, KeyPress, Manner, Requested
from config.profile.port import PlainDevice, PortSettings, SerialPort
from config.profile.value import CHARACTER, DigitsValue, PatternValue, Value, WireUnit

__all__ = [
    "CHARACTER",
    "WIRE",
    "DigitsValue",
    "FixedFraming",
    "Framing",
    "FreeRunning",
    "GaugeProfile",
    "KeyPress",
    "Latency",
    "LineFraming",
    "Manner",
    "PatternValue",
    "PlainDevice",
    "PortSettings",
    "Proof",
    "Requested",
    "SerialPort",
    "Value",
    "WireUnit",
]
