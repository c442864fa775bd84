"""Whether a gauge has stood still since a mark, so that the crank was hardly barred on to another. Pure."""

from __future__ import annotations

from math import sqrt

# Readings since the last mark below which nothing is said of it.
READINGS_MIN = 3
# Noise seldom reaches further than four and a half standard deviations either way: in a thousand readings
# of a normal one with a chance of 0.7 %. Our own choice.
NOISE_SPAN = 9.0
# Of few readings less is taken for noise. Readings that only rise or only fall are never: the squares of
# their steps add up to the square of their range at most, of which this is the share that noise may reach.
NOISE_SHARE = 0.97


class Standing:
    """The readings of a sweep's gauge since the last mark at which they had moved; lengths in nm.

    within_nm: readings no further apart have not moved. since_udeg: that mark; None before the first.
    """

    __slots__ = ("_high", "_last", "_low", "_readings", "_squares", "_within_nm", "since_udeg")

    def __init__(self, within_nm: float) -> None:
        self._within_nm = within_nm
        self.since_udeg: int | None = None
        self._begin(None)

    def _begin(self, mark_udeg: int | None) -> None:
        self.since_udeg = mark_udeg
        self._readings, self._squares = 0, 0
        self._low = self._high = self._last = 0

    def take(self, value: int) -> None:
        """One reading."""
        if self._readings == 0:
            self._low = self._high = value
        else:
            self._low, self._high = min(self._low, value), max(self._high, value)
            self._squares += (value - self._last) ** 2
        self._last = value
        self._readings += 1

    def mark(self, angle_udeg: int, *, anew: bool) -> None:
        """A mark that counts. Where the readings have stood since an earlier one, that one is remembered,
        unless `anew`: a person says that the crank was turned."""
        if anew or self.since_udeg is None or not self.is_still:
            self._begin(angle_udeg)

    @property
    def is_still(self) -> bool:
        """Whether all readings since that mark lie within within_nm of each other, or within their noise."""
        if self._readings < READINGS_MIN:
            return False
        noise = sqrt(self._squares / (self._readings - 1) / 2.0)
        span = min(NOISE_SPAN, NOISE_SHARE * sqrt(2.0 * (self._readings - 1)))
        return self._high - self._low <= max(self._within_nm, span * noise)

    def forget(self) -> None:
        """Nothing was seen for a while."""
        self._begin(None)
