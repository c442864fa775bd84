"""Whether a gauge whose frames do not say their unit was switched to another unit while it was read. Pure.

Between two readings the number then leaps by 25.4, and with more or fewer decimals, while the plunger stands:

    +000.190   +000.190   +0.00748   +0.00748       read as mm: 0.190, 0.190, 0.00748 …

A gauge that shows its point shows other decimals then. Where none is shown the leap is by 25.4 and a power of
ten. What comes after it is no reading, until the number leaps back, the port is opened anew, or something
comes that cannot be: a plunger that moves on at once was only moved, and none moves as far as a large number
in inches says.
"""

from __future__ import annotations

# Steps of the display, at least, of a leap: less may be a zeroing or a knock.
LEAP = 12
# Steps from reading to reading before a leap, at most: what is moved quickly by hand may leap anywhere.
CALM = 20
# Steps by which the number after it may be off, as inches are shown in fives of their last digit; and its
# least, as a zeroed one shows none.
OFF = 3
# How quickly the usual move between two readings is forgotten, a reading; and its least, in steps.
FORGOTTEN, LEAST = 0.98, 5
# Readings in which one that was only moved by hand is moved again.
SOON = 250
# What no plunger moves, nm: what shows more, taken for inches, is none.
BEYOND_NM = 100_000_000
_TO_INCHES, _TO_MM = (1 / 25.4,), (25.4,)
_HIDDEN = {_TO_INCHES: (1 / 25.4, 10 / 25.4, 100 / 25.4), _TO_MM: (25.4, 2.54, 0.254)}


class Switching:
    """The readings of one gauge. per_unit: nm of one of its units; in_mm: whether that is a millimetre.
    hidden: its frames show no point, and decimals are always these."""

    def __init__(self, per_unit: float, *, in_mm: bool, hidden: bool) -> None:
        self._per_unit = per_unit
        self._hidden = hidden
        self._in_mm = in_mm
        ratios = _TO_INCHES if in_mm else _TO_MM
        self._ratios = _HIDDEN[ratios] if hidden else ratios
        self._finer = 1 if in_mm else -1
        self.restart()

    def restart(self) -> None:
        """The stream was cut: it may have been switched off and on."""
        self.switched: tuple[int, int] | None = None
        """The numbers before and after the leap; None where there was none."""
        self._last: int | None = None
        self._decimals = 0
        self._step = self._least = self._usual = 0.0
        self._ratio, self._leap, self._leap_back = 1.0, 0.0, 0.0
        self._since = self._before = self._still = 0

    def takes(self, value: int, decimals: int) -> bool:
        """Whether the value is in the profile's unit, as far as is known."""
        last, self._last = self._last, value
        if decimals == self._decimals and last is not None and self.switched is None:
            if -self._least <= value - last <= self._least:
                self._still += 1
                return True
        elif last is None or decimals != self._decimals:
            before, self._step = self._step, self._per_unit / 10**decimals
            self._least = LEAST * self._step
            changed, self._decimals = decimals - self._decimals, decimals
            if last is None:
                self._usual = LEAST * self._step
                return True
            return self._judged(last, value, changed, before)
        return self._judged(last, value, 0, self._step)

    def _judged(self, last: int, value: int, changed: int, step: float) -> bool:
        move = abs(value - last)
        usual = max(self._usual * FORGOTTEN**self._still, LEAST * step)
        self._still = 0
        if self.switched is not None:
            self._since += 1
            self._usual = max(usual * FORGOTTEN, min(move, 2 * usual))
            if (changed and self._decimals == self._before) or self._is_over(last, value, move, usual):
                self.switched = None
                self._usual = LEAST * self._step
                return True
            return False
        self._usual = max(usual * FORGOTTEN, move, LEAST * self._step)
        more = changed * self._finer > 0
        was_calm = usual <= CALM * step
        leaps = self._hidden and was_calm and move > max(4 * usual, LEAP * step) and abs(value) >= OFF * step
        if not more and (changed or not leaps):
            return True
        for ratio in self._ratios:
            off = OFF * self._step + ratio * (step + (3 if more else 1) * usual)
            if (more or abs(ratio * last) >= OFF * step) and abs(value - ratio * last) <= off:
                self.switched, self._ratio, self._since = (last, value), ratio, 0
                self._before = self._decimals - changed
                self._usual = max(usual, LEAST * step) * ratio
                self._leap, self._leap_back = LEAP * max(step * ratio, self._step), LEAP * step
                return False
        return True

    def _is_over(self, last: int, value: int, move: int, usual: float) -> bool:
        leaps = move > max(4 * usual, self._leap)
        if leaps and self._since <= SOON:
            return True
        back = abs(value - last / self._ratio)
        if leaps and move > self._leap_back and back <= (OFF * self._step + 3 * usual) / self._ratio:
            return True
        return self._in_mm and abs(value) > BEYOND_NM * self._ratio
