"""A hand that bars a crankshaft over: pulls, rests, pauses at the marks, backs up now and then."""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

NS_PER_S = 1_000_000_000

# Two crank angles nearer than this are the same place, degrees: far below any encoder's step.
SAME_PLACE_DEG = 1e-6


@dataclass(frozen=True, slots=True)
class Pull:
    """One stroke of the bar: from rest to rest, eased at both ends."""

    start_ns: int
    end_ns: int
    from_deg: float
    to_deg: float

    def angle_deg(self, time_ns: int) -> float:
        """Crank angle at a time; before and after the stroke the crank stands."""
        share = (time_ns - self.start_ns) / (self.end_ns - self.start_ns)
        eased = 0.5 * (1.0 - math.cos(math.pi * min(max(share, 0.0), 1.0)))
        return self.from_deg + (self.to_deg - self.from_deg) * eased


@dataclass(frozen=True, slots=True)
class Path:
    """Where the crank is at any time: strokes in order, standing between and around them."""

    pulls: tuple[Pull, ...]
    _starts: tuple[int, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if not self.pulls:
            raise ValueError("a path needs at least one stroke")
        object.__setattr__(self, "_starts", tuple(pull.start_ns for pull in self.pulls))

    @property
    def start_ns(self) -> int:
        """When the first stroke begins."""
        return self.pulls[0].start_ns

    @property
    def end_ns(self) -> int:
        """When the last stroke ends."""
        return self.pulls[-1].end_ns

    @property
    def end_deg(self) -> float:
        """Where the crank stands afterwards."""
        return self.pulls[-1].to_deg

    def angle_deg(self, time_ns: int) -> float:
        """Crank angle as barred, unwrapped: it may pass 360 and go back."""
        index = max(bisect_right(self._starts, time_ns) - 1, 0)
        return self.pulls[index].angle_deg(time_ns)

    def stops(self, marks_deg: Sequence[float]) -> list[tuple[int, float]]:
        """When the crank first comes to rest at each mark that it reaches, and its unwrapped angle there,
        marks in the order reached; where it sets out from does not count.
        """
        found: dict[tuple[float, int], tuple[int, float]] = {}
        for pull in self.pulls:
            for mark in marks_deg:
                turn = round((pull.to_deg - mark) / 360.0)
                if abs(pull.to_deg - mark - 360.0 * turn) < SAME_PLACE_DEG * 4:
                    found.setdefault((mark, turn), (pull.end_ns, pull.to_deg))
        return list(found.values())

    def then(self, later: Path) -> Path:
        """This path and a later one as one; the later must begin where and after this one ends."""
        if later.start_ns < self.end_ns or abs(later.pulls[0].from_deg - self.end_deg) > SAME_PLACE_DEG:
            raise ValueError("the later path must begin where and after this one ends")
        return Path(self.pulls + later.pulls)


@dataclass(frozen=True, slots=True)
class BarringHand:
    """How somebody bars; `bar` draws one spell of it from the generator handed in.

    pace_deg_s: mean speed within a stroke; each stroke's own differs by up to `pace_varies` of it.
    pull_deg: what one stroke turns, likewise varied. rest_s: while the bar is set anew. marks_deg:
    crank angles at which the hand stops for `pause_s`. back_deg: how far it goes back, after
    `back_share` of the strokes. reverse: bars against the running direction, angles fall.
    """

    pace_deg_s: float = 24.0
    pace_varies: float = 0.25
    pull_deg: float = 45.0
    rest_s: float = 0.3
    marks_deg: Sequence[float] = (0.0, 120.0, 240.0)
    pause_s: float = 1.2
    back_deg: float = 4.0
    back_share: float = 0.25
    reverse: bool = False

    def bar(self, rng: random.Random, *, start_deg: float, turn_deg: float, start_ns: int) -> Path:
        """Bar over by `turn_deg` (positive, as barred) from `start_deg`, beginning at `start_ns`."""
        if turn_deg <= 0:
            raise ValueError("turn_deg must be above 0; `reverse` chooses the other way")
        sign = -1.0 if self.reverse else 1.0
        pulls: list[Pull] = []
        now, at, goal = start_ns, 0.0, turn_deg
        while goal - at > SAME_PLACE_DEG:
            step = min(self.pull_deg * self._varied(rng), self._to_next_mark(start_deg, sign, at), goal - at)
            now = self._stroke(rng, pulls, start_deg, sign, now, at, at + step)
            at += step
            if goal - at <= SAME_PLACE_DEG:
                break
            at_mark = self._to_next_mark(start_deg, sign, at - SAME_PLACE_DEG * 2) < SAME_PLACE_DEG * 4
            now += round((self.pause_s if at_mark else self.rest_s) * self._varied(rng) * NS_PER_S)
            if self.back_deg > 0 and rng.random() < self.back_share:
                back = min(self.back_deg * self._varied(rng), at)
                now = self._stroke(rng, pulls, start_deg, sign, now, at, at - back)
                at -= back
                now += round(self.rest_s * self._varied(rng) * NS_PER_S)
        return Path(tuple(pulls))

    def _varied(self, rng: random.Random) -> float:
        return 1.0 + rng.uniform(-self.pace_varies, self.pace_varies)

    def _stroke(
        self,
        rng: random.Random,
        pulls: list[Pull],
        start_deg: float,
        sign: float,
        now_ns: int,
        at: float,
        to: float,
    ) -> int:
        """Append one stroke between two distances as barred; return when it ends."""
        spent_ns = max(round(abs(to - at) / (self.pace_deg_s * self._varied(rng)) * NS_PER_S), 1)
        pulls.append(Pull(now_ns, now_ns + spent_ns, start_deg + sign * at, start_deg + sign * to))
        return now_ns + spent_ns

    def _to_next_mark(self, start_deg: float, sign: float, at: float) -> float:
        """Degrees, as barred, from a distance to the next mark ahead; infinite without marks."""
        here = start_deg + sign * at
        ahead = [(sign * (mark - here)) % 360.0 for mark in self.marks_deg]
        return min((step for step in ahead if step > SAME_PLACE_DEG), default=math.inf)


class Crank:
    """The crankshaft that gauges and encoder look at; it stands until a path is handed to it."""

    def __init__(self, angle_deg: float = 0.0) -> None:
        self._standing_deg = angle_deg
        self._path: Path | None = None
        self._floats: list[tuple[int, float]] = []
        self.float_share = 0.0

    def follow(self, path: Path) -> None:
        """Go on along a path, which must begin where the crank stands when it begins."""
        if abs(path.pulls[0].from_deg - self.angle_deg(path.start_ns)) > SAME_PLACE_DEG:
            raise ValueError("the path must begin where the crank stands")
        self._standing_deg = path.pulls[0].from_deg
        self._path = path

    def angle_deg(self, time_ns: int) -> float:
        """Crank angle, unwrapped."""
        return self._standing_deg if self._path is None else self._path.angle_deg(time_ns)

    def let_float(self, changes: Iterable[tuple[int, float]]) -> None:
        """It moves in its end float: from each of these times on to this share of it, in order of time."""
        later = list(changes)
        if later:
            self.float_share = self.float_share_at(later[0][0] - 1)
        self._floats = later

    def hold(self, float_share: float = 0.0) -> None:
        """It is held there."""
        self._floats, self.float_share = [], float_share

    def float_share_at(self, time_ns: int) -> float:
        """Where in its end float it is, see `Damper.face_mm`."""
        index = bisect_right(self._floats, (time_ns, math.inf)) - 1
        return self._floats[index][1] if index >= 0 else self.float_share
