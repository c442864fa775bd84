"""Whether a gauge whose frames do not say their unit was switched to another unit while it was read. Pure.

Between two readings the number then leaps by 25.4, and with more or fewer decimals, while the plunger stands:

    +000.190   +000.190   +0.00748   +0.00748       read as mm: 0.190, 0.190, 0.00748 …

A gauge that shows its point shows other decimals then. Where none is shown the leap is by 25.4 and a power of
ten; near nought there is none, but a display of inches goes by fives of its last digit, as a rule, and one of
millimetres by ones: that one has become the other is seen a few numbers later.

What comes then is no reading, until the number leaps back, it goes as before, the port is opened anew, or
something comes that cannot be: a plunger that moves on at once was only moved, and none moves as far as a
large number in inches says.
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
# So many different numbers in a row that are all fives are no chance (once in 5 to the power of it); where a
# display goes by fives there are no others: so many of them, as a frame may be damaged.
FIVE, ALL_FIVES, OTHERS = 5, 12, 3
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
        self.by_step = False
        """Whether it was told by the step of its numbers, and not by a leap."""
        self._fives = self._others = 0
        # By what its numbers go now, in its last digit, and by what they went when that was known first.
        self._goes: int | None = None
        self._went: int | None = None

    def takes(self, value: int, decimals: int) -> bool:
        """Whether the value is in the profile's unit, as far as is known."""
        last, self._last = self._last, value
        if self._hidden and last is not None and value != last and self._steps_otherwise(last, value):
            return self.switched is None
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

    def _steps_otherwise(self, last: int, value: int) -> bool:
        """Whether from this number on it goes by a step that is not its own, or by its own again."""
        if value % round(FIVE * self._step):
            self._fives, self._others = 0, self._others + 1
        else:
            self._fives += 1
        if self._fives >= ALL_FIVES:
            goes, self._others = FIVE, 0
        elif self._others >= OTHERS:
            goes = 1
        else:
            return False
        before, self._goes = self._goes, goes
        if self._went is None:
            self._went = goes
        if before in (None, goes) or (goes == self._went) is (self.switched is None):
            return False
        if self.switched is None:
            self.switched, self.by_step, self._since = (last, value), True, SOON
            self._ratio, self._before = 1.0, self._decimals
        else:
            self.switched, self._usual = None, LEAST * self._step
        return True

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
                self.switched, self.by_step, self._ratio, self._since = (last, value), False, ratio, 0
                self._before = self._decimals - changed
                self._usual = max(usual, LEAST * step) * ratio
                self._leap, self._leap_back = LEAP * max(step * ratio, self._step), LEAP * step
                return False
        return True

    def _is_over(self, last: int, value: int, move: int, usual: float) -> bool:
        if self.by_step:
            return self._in_mm and abs(value) > BEYOND_NM
        leaps = move > max(4 * usual, self._leap)
        if leaps and self._since <= SOON:
            return True
        back = abs(value - last / self._ratio)
        if leaps and move > self._leap_back and back <= (OFF * self._step + 3 * usual) / self._ratio:
            return True
        return self._in_mm and abs(value) > BEYOND_NM * self._ratio
