"""What a codec is: the data of a frame to an exact value, and back; both from the same profile.

Integer arithmetic throughout: 1 in is 25 400 000 nm, so a millimetre value of up to six decimals
and an inch value of up to five lose nothing. A value finer than a nanometre (or a microdegree, or
a count) is rounded to the nearest, ties to even.
"""

from __future__ import annotations

from decimal import Context
from typing import Protocol

from config.profile import Says, WireUnit
from contract.units import NM_PER_INCH, NM_PER_MM, UDEG_PER_DEG, Unit

WHOLE: dict[WireUnit, tuple[Unit, int]] = {
    WireUnit.MM: (Unit.NM, NM_PER_MM),
    WireUnit.INCH: (Unit.NM, NM_PER_INCH),
    WireUnit.DEG: (Unit.UDEG, UDEG_PER_DEG),
    WireUnit.COUNT: (Unit.COUNT, 1),
}
"""Of each unit on the wire the whole unit of readings, and how many of them make one."""
HARMLESS: frozenset[Says] = frozenset({"battery-low"})
"""What a gauge may say beside a value that is a reading all the same."""
# Wide enough that a value of 30 digits divided by 25.4 keeps every decimal a frame can show.
WIDE = Context(prec=60)


class Codec(Protocol):
    """unit: the whole unit of its values. expected: what a frame should be, for messages. has_index: its
    frames say whether an encoder's index has come.

    Of the frame whose value it gave last: decimals: how many it showed. says: what the gauge said beside it.
    shows: the unit that the frame itself said, None where frames do not say.
    """

    unit: Unit
    expected: str
    has_index: bool
    decimals: int
    says: Says | None
    shows: WireUnit | None

    def value(self, data: bytes) -> int:
        """The value in whole nanometres, microdegrees or counts. Raises FrameError, StatusError where the
        gauge says why there is none."""

    def index(self, data: bytes) -> bool:
        """Whether a frame that holds a value says so; asked where has_index."""

    def write(self, value: int) -> bytes:
        """The data of a frame that shows `value`, rounded, ties to even, to what it can show. Raises
        EncodeError where it does not fit."""
