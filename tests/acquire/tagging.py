"""How good tags are: simulated turns tagged and held against where the crank was, by cell of a grid."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from acquire.angle.spell import Readings, Spell
from acquire.angle.tags import Tags
from acquire.journal.events import Event, Mark
from grading.evidence import F64
from tests.acquire.turns import Turn

# A pause counts with so many seconds at the most: else a few of an hour would be all that counts.
PAUSE_S = 10.0


@dataclass(frozen=True)
class Cell:
    """marks_deg apart; display's step and TIR in mm; readings a second."""

    spacing_deg: int
    resolution_mm: float
    tir_mm: float
    per_s: float

    @property
    def marks_deg(self) -> tuple[float, ...]:
        """Of a turn."""
        return tuple(float(mark) for mark in range(0, 360, self.spacing_deg))


def cells(spacings: Iterable[int]) -> list[Cell]:
    """The grid."""
    return [
        Cell(*one) for one in itertools.product(spacings, (0.01, 0.001), (0.05, 0.15, 0.3, 0.6), (5, 15, 50))
    ]


@dataclass
class Score:
    """Sums over readings, each weighed: of squared errors, of those within 2 u, of the weights."""

    squares: float = 0.0
    within: float = 0.0
    weight: float = 0.0

    def add(self, error: F64, u: F64, weight: F64) -> None:
        """One turn's."""
        self.squares += float(weight @ error**2)
        self.within += float(weight @ (np.abs(error) <= 2 * u))
        self.weight += float(weight.sum())

    def join(self, other: Score) -> None:
        """Another's too."""
        self.squares += other.squares
        self.within += other.within
        self.weight += other.weight

    @property
    def rms_deg(self) -> float:
        """Root mean square error."""
        return float((self.squares / self.weight) ** 0.5)

    @property
    def covered(self) -> float:
        """Share of readings whose true angle lies within ±2 u."""
        return self.within / self.weight


def spell_of(turn: Turn) -> Spell:
    """As the journal would give it."""
    events: list[Event] = [
        Mark(inspection="i", time_ns=ns, angle_udeg=round(deg * 1e6)) for ns, deg in turn.presses
    ]
    return Spell(Readings(turn.times_ns, turn.value_nm, np.zeros_like(turn.times_ns), 0), events)


def weights(turn: Turn) -> F64:
    """One for each reading; less in a long pause, see PAUSE_S."""
    moved = np.abs(np.diff(turn.true_deg, prepend=np.nan)) > 1e-9
    stop = np.cumsum(moved)
    seconds = np.bincount(stop)[stop] * float(np.median(np.diff(turn.times_ns))) / 1e9
    return np.asarray(np.minimum(1.0, PAUSE_S / seconds))


def score(turn: Turn, tag: Callable[[Spell], Tags]) -> Score:
    """Of one turn."""
    tags = tag(spell_of(turn))
    known, found = tags.known, Score()
    found.add((tags.angle_deg - turn.true_deg)[known], tags.u_deg[known], weights(turn)[known])
    return found
