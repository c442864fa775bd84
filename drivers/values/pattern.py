"""A number written as text: a regular expression takes it out, a template writes it."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from config.profile import WIRE, PatternValue
from drivers.errors import EncodeError, FrameError
from drivers.values.base import WHOLE, WIDE

_NUMBER = re.compile(rb"([+-]?[0-9]*)(?:\.([0-9]*))?")


class PatternCodec:
    """Of one gauge, which is named in what is said of bad frames."""

    def __init__(self, kind: PatternValue, gauge: str) -> None:
        self.unit, per_unit = WHOLE[kind.unit]
        self.expected = kind.pattern
        self._gauge = gauge
        self._template = kind.template
        pattern = re.compile(kind.pattern.encode(WIRE))
        self._match = pattern.fullmatch
        self._number = _NUMBER.fullmatch
        self._value_group = pattern.groupindex["value"]
        self._index_group = pattern.groupindex.get("index", 0)
        self.has_index = self._index_group > 0
        self._sign_group = pattern.groupindex.get("sign", 0)
        self._divisor = per_unit * kind.scale
        self._per_unit = Fraction(kind.scale) * per_unit
        self._factors: dict[int, tuple[int, int]] = {}

    def value(self, data: bytes) -> int:
        """The value in whole nanometres, microdegrees or counts. Raises FrameError."""
        match = self._match(data)
        if match is None:
            raise FrameError(self._gauge, self.expected, data)
        number = self._number(match[self._value_group] or b"")
        if number is None:
            raise FrameError(self._gauge, self.expected, data)
        whole, decimals = number.groups(b"")
        try:
            value = int(whole + decimals)
        except ValueError:
            raise FrameError(self._gauge, self.expected, data) from None
        if self._sign_group and match[self._sign_group] == b"-":
            value = -value
        places = len(decimals)
        try:
            numerator, denominator = self._factors[places]
        except KeyError:
            numerator, denominator = (self._per_unit / 10**places).as_integer_ratio()
            self._factors[places] = numerator, denominator
        if denominator == 1:
            return value * numerator
        return round(Fraction(value * numerator, denominator))

    def index(self, data: bytes) -> bool:
        """Whether its group holds anything but spaces and noughts."""
        match = self._match(data)
        return match is not None and bool((match[self._index_group] or b"").strip(b" 0"))

    def write(self, value: int) -> bytes:
        """The data of a frame that shows `value`. Raises EncodeError where it does not fit."""
        data = self._template.format(WIDE.divide(Decimal(value), self._divisor)).encode(WIRE)
        if not self._match(data):
            raise EncodeError(f"expected {self.expected}, got {data!r}")
        return data
