"""The data of a frame to an exact value and back, one module for each kind of value. A new one is a
module and a row here."""

from __future__ import annotations

from collections.abc import Callable

from config.profile import DigitsValue, IntegerValue, PatternValue, Value
from drivers.values.base import Codec
from drivers.values.digits import DigitsCodec
from drivers.values.integer import IntegerCodec
from drivers.values.pattern import PatternCodec

__all__ = ["Codec", "codec"]

_KINDS: dict[type, Callable[..., Codec]] = {
    PatternValue: PatternCodec,
    DigitsValue: DigitsCodec,
    IntegerValue: IntegerCodec,
}


def codec(value: Value, gauge: str) -> Codec:
    """Its codec. gauge: named in what is said of bad frames."""
    return _KINDS[type(value)](value, gauge)
