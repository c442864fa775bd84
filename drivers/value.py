"""Frames to exact values, and values to frames; both from the same profile.

Integer arithmetic throughout: 1 in is 25 400 000 nm, so a millimetre value of up to six decimals
and an inch value of up to five lose nothing. A value finer than a nanometre (or a microdegree, or
a count) is rounded to the nearest, ties to even.
"""

from __future__ import annotations

import re
from decimal import Context, Decimal
from fractions import Fraction

from config.profile import WIRE, GaugeProfile, WireUnit
from contract.units import NM_PER_INCH, NM_PER_MM, UDEG_PER_DEG, Unit
from drivers.errors import EncodeError, FrameError
from drivers.framing import Frame

_WHOLE: dict[WireUnit, tuple[Unit, int]] = {
    WireUnit.MM: (Unit.NM, NM_PER_MM),
    WireUnit.INCH: (Unit.NM, NM_PER_INCH),
    WireUnit.DEG: (Unit.UDEG, UDEG_PER_DEG),
    WireUnit.COUNT: (Unit.COUNT, 1),
}
_NUMBER = re.compile(rb"([+-]?[0-9]*)(?:\.([0-9]*))?")
# Wide enough that a value of 30 digits divided by 25.4 keeps every decimal a frame can show.
_WIDE = Context(prec=60)


def unit_of(profile: GaugeProfile) -> Unit:
    """The whole unit of the profile's readings."""
    return _WHOLE[profile.value.unit][0]


class Decoder:
    """Takes the exact value out of a frame. gauge: named in what is said of bad frames."""

    def __init__(self, profile: GaugeProfile, gauge: str = "") -> None:
        self.unit = unit_of(profile)
        self._gauge = gauge or profile.id
        self._expected = f"a frame of {profile.id}, {profile.value.pattern}"
        pattern = re.compile(profile.value.pattern.encode(WIRE))
        self._match = pattern.fullmatch
        self._number = _NUMBER.fullmatch
        self._value_group = pattern.groupindex["value"]
        self._sign_group = pattern.groupindex.get("sign", 0)
        self._per_unit = Fraction(profile.value.scale) * _WHOLE[profile.value.unit][1]
        self._factors: dict[int, tuple[int, int]] = {}

    def decode(self, frame: Frame) -> int:
        """The value in whole nanometres, microdegrees or counts. Raises FrameError."""
        return self.value(frame.data)

    def value(self, data: bytes) -> int:
        """As `decode`, of the frame's bare data."""
        match = self._match(data)
        if match is None:
            raise FrameError(self._gauge, self._expected, data)
        number = self._number(match[self._value_group] or b"")
        if number is None:
            raise FrameError(self._gauge, self._expected, data)
        whole, decimals = number.groups(b"")
        try:
            value = int(whole + decimals)
        except ValueError:
            raise FrameError(self._gauge, self._expected, data) from None
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


def encode(value: int, profile: GaugeProfile) -> bytes:
    """The frame, terminator included, in which a gauge of this profile shows `value`.

    value: whole nanometres, microdegrees or counts; rounded, ties to even, to what the frame can
    show. Raises EncodeError where it does not fit.
    """
    per_unit = _WHOLE[profile.value.unit][1] * profile.value.scale
    number = _WIDE.divide(Decimal(value), per_unit)
    data = profile.value.template.format(number).encode(WIRE)
    if len(data) > profile.framing.max_bytes or not re.fullmatch(profile.value.pattern.encode(WIRE), data):
        raise EncodeError(
            f"{profile.id}: value {value} {unit_of(profile)} does not fit a frame: "
            f"expected {profile.value.pattern}, got {data!r}"
        )
    return data + profile.framing.terminator_bytes
