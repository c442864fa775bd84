"""Seeded turns of a crank that is barred by hand, as an encoder and an indicator tell of them; and how well
the final tags know the angle of each reading.

A stroke of 20 to 40 degrees at a pace that varies by up to 60 % within it, begun and ended at once; after
most of them the ratchet gives a few degrees back; then the crank stands for a second to an hour. Of a long
stand only its first and its last second are heard, by encoder and gauge alike: what is the same over and over
says nothing more, and would make of every figure one of standing. Encoder and gauge each read in their own
beat, and are late by what is stated of them, give or take.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from acquire.angle.spell import I64
from acquire.angle.tagger import tag_sweep
from acquire.journal.events import AngleStated, Event, Sample, SweepBegun
from contract.gauge import GaugeFacts
from contract.units import Unit
from grading.evidence import F64

HELD, HELD_GIVE = 0.95, 0.02
"""What +-2 u is to hold of the readings, and by how much a cell may be off beside chance."""
CHANCE = 0.001
"""Of a cell being off by more to one side, where it is not."""
HEARD_S = 1.0
PACE_DEG_S = (15.0, 45.0)
STEPS_DEG = (1.0, 0.1, 0.025)
PERIODS_S = (0.01, 0.02, 0.05, 0.1)
LATE_U_S = (0.0014, 0.02)
READINGS_A_SECOND = (5.0, 10.0, 20.0, 50.0)
RESOLUTIONS_MM = (0.001, 0.01)
TIRS_MM = (0.05, 0.15, 0.3, 0.6)


@dataclass(frozen=True, slots=True)
class Cell:
    """One of the grid: a step of the encoder, the time between two of its frames, what is stated of both
    latencies together (standard)."""

    step_deg: float
    period_s: float
    late_u_s: float


CELLS = tuple(Cell(*cell) for cell in product(STEPS_DEG, PERIODS_S, LATE_U_S))


@dataclass(frozen=True, slots=True)
class Told:
    """One turn as tagged, shape (n,) each: by how much each angle is off, what is said of it, and whether the
    crank moved. gauge: readings a second, resolution and TIR in mm. retimed: the readings told how late they
    came."""

    off_deg: F64
    u_deg: F64
    moves: NDArray[np.bool_]
    gauge: tuple[float, float, float]
    retimed: bool

    @property
    def held(self) -> float:
        """The share of angles that +-2 u holds."""
        return float(np.mean(np.abs(self.off_deg) <= 2.0 * self.u_deg))


class Strokes:
    """Where the crank is at any time, shape as asked; strokes and stands in order, t in s."""

    def __init__(self, rng: np.random.Generator, turn_deg: float = 372.0) -> None:
        rows: list[tuple[float, ...]] = []
        self.start_deg = at = float(rng.uniform(0.0, 360.0))
        now = 0.0

        def go(way: float, spent: float) -> None:
            nonlocal now, at
            varies, waves = rng.uniform(0.2, 0.6), float(rng.integers(1, 3))
            rows.append((now, spent, at, way, varies, rng.uniform(0.0, 2.0 * np.pi), waves))
            now, at = now + spent, at + way

        go(0.0, 1.0)
        while at < self.start_deg + turn_deg:
            stroke = float(rng.uniform(20.0, 40.0))
            go(stroke, stroke / float(rng.uniform(*PACE_DEG_S)))
            if rng.random() < 0.7:
                go(0.0, float(rng.uniform(0.0, 0.3)) + 1e-3)
                back = float(rng.uniform(1.0, 4.0))
                go(-back, back / float(rng.uniform(*PACE_DEG_S)))
            go(0.0, float(np.exp(rng.uniform(0.0, np.log(3600.0)))))
        self._rows = np.array(rows)
        self.end_s = now

    def deg(self, t: F64) -> F64:
        """Its angle, unwrapped."""
        begun, spent, at, way, varies, phase, waves = self._at(t)
        share = np.clip((t - begun) / spent, 0.0, 1.0)
        turn = 2.0 * np.pi * waves
        eased = share - varies / turn * (np.cos(turn * share + phase) - np.cos(phase))
        found: F64 = at + way * eased
        return found

    def moves(self, t: F64) -> NDArray[np.bool_]:
        """Whether it is in a stroke."""
        return np.asarray(self._at(t)[3] != 0.0)

    def beats(self, rng: np.random.Generator, period_s: float) -> F64:
        """Times of something that goes on in its own beat, without the middle of long stands."""
        stands = [
            (b + HEARD_S, b + s - HEARD_S) for b, s, _, way, *_ in self._rows if way == 0 and s > 2 * HEARD_S
        ]
        pieces, last = [], 0.0
        for begin, end in [*stands, (self.end_s, self.end_s)]:
            n = int((begin - last) / period_s)
            beat = last + (np.arange(n) + rng.random() * 0.9) * period_s
            pieces.append(beat + rng.uniform(-0.05, 0.05, n) * period_s)
            last = end
        return np.concatenate(pieces)

    def _at(self, t: F64) -> F64:
        here = np.searchsorted(self._rows[:, 0], t, side="right") - 1
        return np.asarray(self._rows[np.clip(here, 0, len(self._rows) - 1)].T)


def surface(rng: np.random.Generator, tir_mm: float, deg: F64) -> F64:
    """What a plunger feels of a rim: eccentric above all, and lobes."""
    orders = np.arange(1, 7)
    height, phase = rng.normal(0.0, 1.0, 6) / orders**1.5, rng.uniform(0.0, 2 * np.pi, 6)
    height[0] = 1.0
    at = np.cos(np.outer(np.deg2rad(np.concatenate([np.arange(360.0), deg])), orders) + phase) @ height
    found: F64 = tir_mm * at[360:] / np.ptp(at[:360])
    return found


@dataclass(frozen=True, slots=True)
class Heard:
    """A turn as the journal has it, and what is true of each of the gauge's readings."""

    events: list[Event]
    came_ns: I64
    framed_ns: I64
    true_deg: F64
    moves: NDArray[np.bool_]
    gauge: tuple[float, float, float]


def heard(seed: int, cell: Cell, *, late_s: float | None = None) -> Heard:
    """One turn. late_s: by how much the gauge's readings come later than stated; else as it falls."""
    parts = cell.step_deg, cell.period_s, cell.late_u_s
    rng = np.random.default_rng([seed, *(round(1e4 * part) for part in parts)])
    rate, resolution_mm, tir_mm = map(
        float, (rng.choice(READINGS_A_SECOND), rng.choice(RESOLUTIONS_MM), rng.choice(TIRS_MM))
    )
    crank, drawn_s = Strokes(rng), float(rng.normal(0.0, cell.late_u_s))
    framed, read = crank.beats(rng, cell.period_s), crank.beats(rng, 1.0 / rate)
    counts = np.round(crank.deg(framed) / cell.step_deg).astype(np.int64)
    true_deg = crank.deg(read)
    felt = surface(rng, tir_mm, true_deg) + rng.normal(0.0, 0.4 * resolution_mm, read.size)
    values = np.round(felt / resolution_mm).astype(np.int64) * round(resolution_mm * 1e6)
    came_s = read + (drawn_s if late_s is None else late_s)
    came_ns, framed_ns = (np.round((t + 10.0) * 1e9).astype(np.int64) for t in (came_s, framed))
    begun = SweepBegun(
        inspection="i", time_ns=0, check="rim",
        gauge=GaugeFacts("g", resolution_mm, 0.004, latency_u_ns=round(cell.late_u_s * 1e9)),
        angle=AngleStated(source="encoder", gauge="e", unit=Unit.COUNT, per_turn=round(360 / cell.step_deg)),
    )  # fmt: skip
    events: list[Event] = [begun, *_samples("e", framed_ns, counts), *_samples("g", came_ns, values)]
    gauge = rate, resolution_mm, tir_mm
    return Heard(events, came_ns, framed_ns, true_deg, crank.moves(read), gauge)


def told(turn: Heard) -> Told:
    """It, tagged as the bay does."""
    sweep = tag_sweep(turn.events)
    later_ns = 0 if sweep.delay is None else round(sweep.delay.later_s * 1e9)
    of_ns = turn.came_ns - later_ns
    taken = (of_ns >= turn.framed_ns[0]) & (of_ns <= turn.framed_ns[-1])
    off = sweep.angle_deg - turn.true_deg[taken]
    # Counts begin anew at the first frame: whole turns are no error.
    off -= 360.0 * np.round(off / 360.0)
    return Told(off, sweep.angle_u_deg, turn.moves[taken], turn.gauge, sweep.delay is not None)


def _samples(gauge: str, times: I64, values: I64) -> Iterator[Sample]:
    unit = Unit.COUNT if gauge == "e" else Unit.NM
    for n, (time, value) in enumerate(zip(times.tolist(), values.tolist(), strict=True)):
        yield Sample(inspection="i", time_ns=time, gauge=gauge, reading=n, value=value, unit=unit)


def long_sweep(readings: int, cell: Cell, seed: int = 0) -> list[Event]:
    """The events of a sweep of so many readings, and as many frames: turn after turn, without long stands."""
    rng = np.random.default_rng(seed)
    crank, t = Strokes(rng), np.arange(readings) * cell.period_s
    turns, within = np.divmod(t, crank.end_s)
    deg = crank.deg(within) + turns * 400.0
    begun = SweepBegun(
        inspection="i", time_ns=0, check="rim",
        gauge=GaugeFacts(id="g", resolution_mm=0.001, mpe_mm=0.004),
        angle=AngleStated(source="encoder", gauge="e", unit=Unit.COUNT, per_turn=round(360 / cell.step_deg)),
    )  # fmt: skip
    counts, values = np.round(deg / cell.step_deg).astype(np.int64), np.arange(readings) % 97 * 1_000
    times = np.round(t * 1e9).astype(np.int64)
    both = zip(_samples("e", times, counts), _samples("g", times + 7_000_000, values), strict=True)
    return [begun, *(sample for pair in both for sample in pair)]


@dataclass(frozen=True, slots=True)
class Row:
    """Some turns together. held: share of readings within +-2 u, held_se: its standard error, from turn to
    turn; rms_deg: all readings, those of a moving and of a standing crank; u_deg: as said, rms."""

    name: str
    turns: int
    held: float
    held_se: float
    rms_deg: float
    moving_deg: float
    standing_deg: float
    u_deg: float
    retimed: float

    @property
    def is_honest(self) -> bool:
        """Whether it holds what it is to hold, chance allowed for."""
        sure = float(student.ppf(1.0 - CHANCE, self.turns - 1))
        return abs(self.held - HELD) <= HELD_GIVE + sure * self.held_se


def row_of(name: str, some: list[Told]) -> Row:
    """What they come to; turns count alike."""
    held = np.array([turn.held for turn in some])
    off, moves = (
        np.concatenate([turn.off_deg for turn in some]),
        np.concatenate([turn.moves for turn in some]),
    )
    u = np.concatenate([turn.u_deg for turn in some])
    return Row(
        name, len(some), float(held.mean()), float(held.std(ddof=1) / len(some) ** 0.5), _rms(off),
        _rms(off[moves]), _rms(off[~moves]), _rms(u), float(np.mean([turn.retimed for turn in some])),
    )  # fmt: skip


def rows_of(turns: int, seed: int) -> list[Row]:
    """So many turns over the whole grid: a row for each cell, and for each kind of gauge."""
    by_name: dict[str, list[Told]] = {}
    for n in range(turns):
        cell = CELLS[n % len(CELLS)]
        turn = told(heard(seed + n, cell))
        rate, resolution_mm, tir_mm = turn.gauge
        late = f"{1e3 * cell.late_u_s:g} ms"
        names = (
            f"step {cell.step_deg:g}, each {1e3 * cell.period_s:.0f} ms, late by {late}",
            f"{rate:g} readings a second, late by {late}",
            f"{resolution_mm:g} mm, late by {late}",
            f"TIR {tir_mm:g} mm, late by {late}",
        )
        for name in names:
            by_name.setdefault(name, []).append(turn)
    return [row_of(name, some) for name, some in by_name.items() if len(some) > 1]


def _rms(values: F64) -> float:
    return float(np.sqrt(np.mean(np.square(values)))) if values.size else 0.0
