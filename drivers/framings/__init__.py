"""Bytes to frames, one module for each kind of framing. A new one is a module and a row here."""

from __future__ import annotations

from collections.abc import Callable

from config.profile import CheckedFraming, FixedFraming, Framing, LineFraming, PacketFraming
from drivers.framings.base import Frame, Framer, FramingStatistics
from drivers.framings.checked import CheckedFramer
from drivers.framings.fixed import FixedFramer
from drivers.framings.line import LineFramer
from drivers.framings.packet import PacketFramer

__all__ = ["Frame", "Framer", "FramingStatistics", "framer"]

_KINDS: dict[type, Callable[..., Framer]] = {
    LineFraming: LineFramer,
    FixedFraming: FixedFramer,
    CheckedFraming: CheckedFramer,
    PacketFraming: PacketFramer,
}


def framer(framing: Framing, *, hunting: bool = False) -> Framer:
    """Its framer. hunting: the stream may begin within a frame, and go on within another after a cut."""
    return _KINDS[type(framing)](framing, hunting=hunting)
