"""Simulated turns of a crank barred by hand: where it truly was at each reading, drawn from a seed.

One turn (our own choice throughout, no source):
- strokes of 20 to 40 degrees, cut short at a mark; within each the speed varies by ±60 % about the stroke's
  own, which differs by ±25 % from the turn's, 12 to 30 degrees a second (log-uniform); after six in ten the
  ratchet gives 1 to 5 degrees back, also at a mark before the crank is set on it.
- pauses: at a mark 1 s to 1 h (log-uniform); between strokes 0.5 to 3 s, and one in ten 1 s to 1 h.
- the crank stands within MARK_U_DEG (standard) of the mark; the press comes while it stands.
- surface: off its axis, with a second harmonic of up to a quarter of that, third to fifth of 5 % / k
  (normal), and in three of ten turns a dent or bulge, 5 to 15 degrees wide, of 5 to 15 % of the TIR. `rough`
  ones are those of the coverage study's grid (`tests.grading.synthetic`): 1 to 12 harmonics, some of them
  hardly less than the first, half of them with a dent or bulge.
- gauge: noise 0.3 to 1 um with 0.001 mm, 0.5 to 3 um with 0.01 mm; an even drift of 1.5 um (standard).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grading.evidence import F64
from tests.grading.synthetic import Case, SurfaceShape

MARK_U_DEG = 1.0


class PlainSurface:
    """See above."""

    def __init__(self, rng: np.random.Generator, tir_mm: float) -> None:
        self.size = np.array(
            [1, rng.uniform(0, 0.25), *(0.05 / k * rng.standard_normal() for k in (3, 4, 5))]
        )
        self.phase = rng.uniform(0, 2 * np.pi, 5)
        self.at, self.width = rng.uniform(0, 360), rng.uniform(5, 15)
        dented = rng.random() < 0.3
        self.height = 2 * rng.uniform(0.05, 0.15) * (1 if rng.random() < 0.5 else -1) * dented
        self.scale = 1.0
        self.scale = tir_mm / float(np.ptp(self(np.arange(0, 360, 0.05))))

    def __call__(self, angle_deg: F64) -> F64:
        """Height in mm."""
        turn = np.deg2rad(angle_deg)
        out = sum(
            a * np.cos(k * turn - p) for k, (a, p) in enumerate(zip(self.size, self.phase, strict=True), 1)
        )
        off = np.abs((angle_deg - self.at + 180) % 360 - 180) / (self.width / 2)
        return np.asarray(
            self.scale * (out + self.height * np.where(off < 1, 0.5 + 0.5 * np.cos(np.pi * off), 0))
        )


@dataclass(frozen=True)
class Turn:
    """times_ns, value_nm, true_deg: of each reading, shape (n,). presses: (ns, degrees as told) at each mark.
    stops: (ns from, ns to, degrees) of each time that the crank stood at a mark."""

    times_ns: NDArray[np.int64]
    value_nm: NDArray[np.int64]
    true_deg: F64
    presses: tuple[tuple[int, float], ...]
    stops: tuple[tuple[int, int, float], ...]
    resolution_nm: int


class Hand:
    """Bars on, and remembers: knots of the path in seconds and degrees."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.pace = float(np.exp(rng.uniform(np.log(12), np.log(30))))
        self.t: list[float] = [0.0]
        self.a: list[float] = [0.0]

    def wait(self, seconds: float) -> None:
        """Stand."""
        self.t.append(self.t[-1] + seconds)
        self.a.append(self.a[-1])

    def move(self, degrees: float) -> None:
        """One stroke from rest to rest: speed within it ±60 % about its own."""
        rng = self.rng
        own = self.pace * rng.uniform(0.75, 1.25)
        n = 16
        x = (np.arange(n) + 0.5) / n
        speed = 1 + 0.6 * np.sin(2 * np.pi * (rng.uniform(0.5, 2) * x + rng.uniform()))
        seconds = np.cumsum(1 / speed) * abs(degrees) / own / n
        self.t += list(self.t[-1] + seconds)
        self.a += list(self.a[-1] + degrees * np.arange(1, n + 1) / n)

    def stroke_to(self, goal: float) -> None:
        """On to a place, in strokes, with what the ratchet gives back."""
        rng = self.rng
        while goal - self.a[-1] > 1e-9:
            step = min(rng.uniform(20, 40), goal - self.a[-1])
            back = rng.uniform(1, 5) if rng.random() < 0.6 and self.a[-1] + step > 8 else 0.0
            self.move(step)
            at_mark = goal - self.a[-1] <= 1e-9
            if back:
                self.wait(rng.uniform(0.2, 0.6))
                self.move(-back)
                if at_mark:
                    self.wait(rng.uniform(0.5, 2))
                    self.move(goal - self.a[-1])
            if not at_mark:
                self.wait(log_uniform(rng, 1, 3600) if rng.random() < 0.1 else rng.uniform(0.5, 3))


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Uniform in the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def turn(
    rng: np.random.Generator,
    marks_deg: tuple[float, ...],
    resolution_mm: float,
    per_s: float,
    tir_mm: float,
    *,
    pressing: bool = True,
    rough: bool = False,
) -> Turn:
    """One, from a mark at 0 to the same mark again."""
    hand = Hand(rng)
    hand.wait(rng.uniform(1, 3))
    presses = [(rng.uniform(0.1, 0.9) * hand.t[-1], 0.0)]
    stops = [(0.0, hand.t[-1], 0.0)]
    for mark in (*[m for m in marks_deg if m > 0], 360.0):
        hand.stroke_to(mark + rng.normal(0, MARK_U_DEG))
        arrived = hand.t[-1]
        pause = log_uniform(rng, 1, 3600) if mark < 360 else rng.uniform(1.5, 3)
        hand.wait(pause)
        presses.append((arrived + rng.uniform(0.2, min(0.9 * pause, 5)), mark))
        stops.append((arrived, hand.t[-1], mark))
    seconds = np.arange(0, hand.t[-1], 1 / per_s) + rng.uniform(0, 1 / per_s)
    path = np.interp(seconds, hand.t, hand.a)
    n = seconds.size
    noise = log_uniform(rng, 0.0003, 0.001) if resolution_mm < 0.005 else log_uniform(rng, 0.0005, 0.003)
    case = Case(
        int(rng.integers(1, 13)), bool(rng.random() < 0.5), "marks", tir_mm, resolution_mm, 0, noise, n
    )
    surface = SurfaceShape(rng, case) if rough else PlainSurface(rng, tir_mm)
    value = surface(path) + rng.normal(0, noise, n)
    value += rng.normal(0, 0.0015) * np.linspace(0, 1, n) + rng.uniform(0, 1) * resolution_mm
    shown = np.round(value / resolution_mm) * resolution_mm
    return Turn(
        times_ns=np.round(seconds * 1e9).astype(np.int64),
        value_nm=np.round(shown * 1e6).astype(np.int64),
        true_deg=path,
        presses=tuple((round(t * 1e9), a) for t, a in presses) if pressing else (),
        stops=tuple((round(a * 1e9), round(b * 1e9), m) for a, b, m in stops),
        resolution_nm=round(resolution_mm * 1e6),
    )
