"""A number written as text: a regular expression takes it out, a template writes it."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from config.profile import WIRE, PatternValue, Says, WireUnit
from drivers.errors import EncodeError, FrameError, StatusError
from drivers.values.base import HARMLESS, WHOLE, WIDE

# A power of ten has two figures at most: larger ones are no length.
_POWER = rb"[eE]([+-]?[0-9]{1,2})"


class PatternCodec:
    """Of one gauge, which is named in what is said of bad frames."""

    def __init__(self, kind: PatternValue, gauge: str) -> None:
        self.unit, per_unit = WHOLE[kind.unit]
        self.expected = kind.pattern
        self._gauge = gauge
        self._frame = kind.frame
        pattern = re.compile(kind.pattern.encode(WIRE))
        self._match = pattern.fullmatch
        point, power = re.escape(kind.point.encode()), _POWER if kind.has_power else rb"(?!)()"
        self._number = re.compile(rb"([+-]?[0-9]*)(?:%b([0-9]*))?(?:%b)?" % (point, power)).fullmatch
        self._value_group = pattern.groupindex["value"]
        self._index_group = pattern.groupindex.get("index", 0)
        self.has_index = self._index_group > 0
        self._sign_group = pattern.groupindex.get("sign", 0)
        self._divisor = per_unit * kind.scale
        scale = Fraction(kind.scale)
        self._units = {
            text.encode(WIRE): (means, scale * WHOLE[means][1]) for text, means in kind.units.items()
        }
        self._unit_group = pattern.groupindex.get("unit", 0)
        self._status_group = pattern.groupindex.get("status", 0)
        self._status = tuple(
            (re.compile(one.pattern.encode(WIRE)).fullmatch, one.means) for one in kind.status
        )
        self._per_unit = scale * per_unit
        self._factors: dict[tuple[WireUnit | None, int], tuple[int, int]] = {}
        self.decimals = kind.shown_decimals
        self.says: Says | None = None
        self.shows: WireUnit | None = None

    def value(self, data: bytes) -> int:
        """The value in whole nanometres, microdegrees or counts. Raises FrameError."""
        match = self._match(data)
        if match is None:
            says = self._said(data)
            if says is not None:
                raise StatusError(self._gauge, self.expected, data, says)
            raise FrameError(self._gauge, self.expected, data)
        if self._status_group:
            self._hear_status(match[self._status_group] or b"", data)
        if self._unit_group:
            known = self._units.get(match[self._unit_group] or b"")
            if known is None:
                raise FrameError(self._gauge, self.expected, data)
            self.shows, self._per_unit = known
        number = self._number(match[self._value_group] or b"")
        if number is None:
            raise FrameError(self._gauge, self.expected, data)
        whole, decimals, power = number.groups(b"")
        try:
            value = int(whole + decimals)
        except ValueError:
            raise FrameError(self._gauge, self.expected, data) from None
        if self._sign_group and match[self._sign_group] == b"-":
            value = -value
        self.decimals = places = len(decimals)
        if power:
            places -= int(power)
        try:
            numerator, denominator = self._factors[self.shows, places]
        except KeyError:
            numerator, denominator = (self._per_unit / Fraction(10) ** places).as_integer_ratio()
            self._factors[self.shows, places] = numerator, denominator
        if denominator == 1:
            return value * numerator
        return round(Fraction(value * numerator, denominator))

    def index(self, data: bytes) -> bool:
        """Whether its group holds anything but spaces and noughts."""
        match = self._match(data)
        return match is not None and bool((match[self._index_group] or b"").strip(b" 0"))

    def write(self, value: int) -> bytes:
        """The data of a frame that shows `value`. Raises EncodeError where it does not fit."""
        data = self._frame(WIDE.divide(Decimal(value), self._divisor)).encode(WIRE)
        if not self._match(data):
            raise EncodeError(f"expected {self.expected}, got {data!r}")
        return data

    def _hear_status(self, said: bytes, data: bytes) -> None:
        """Raises FrameError where the value beside it is none."""
        self.says = self._said(said) if said else None
        if said and self.says is None:
            raise FrameError(self._gauge, self.expected, data)
        if self.says is not None and self.says not in HARMLESS:
            raise StatusError(self._gauge, self.expected, data, self.says)

    def _said(self, text: bytes) -> Says | None:
        return next((means for fits, means in self._status if fits(text)), None)
