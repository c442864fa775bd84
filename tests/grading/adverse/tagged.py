"""What else goes wrong, as journal events that come out of the tagger: one thing drawn for each sweep."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grading.evidence import Sweep
from tests.grading.adverse import angles, contact, level, noise, surfaces
from tests.grading.adverse.day import Day, Take
from tests.grading.adverse.marks import PER_TURN, counted, pressed, times_at_marks
from tests.grading.adverse.regime import Build, Regime, Short
from tests.grading.synthetic import barred_path

COUNTS = (360, 720, 1024, 4096)
# What the encoder is told to turn, of what it turns.
SCALES = (0.8, 0.9, 0.95, 0.98, 1.02, 1.05, 1.1, 1.25, 1.5, 2.0)


def by_marks(day: Day, take: Take) -> Sweep:
    """Marks pressed where they are, to half a degree, as often as they come."""
    spacing = 360 / int(day.rng.choice(PER_TURN))
    barred = np.maximum.accumulate(take.path)
    whole = 360.0 * max(1, int(barred[-1] // 360))
    take = Take(barred, take.angle, take.angle_u, take.time_s, take.value, take.noise)
    presses = [(float(t), i) for i, t in enumerate(times_at_marks(day, take, spacing, whole))]
    return pressed(day, spacing, take, presses, whole)


def by_counts(day: Day, take: Take) -> Sweep:
    """An encoder of so many counts a turn, coarse or fine."""
    return counted(day, take, int(day.rng.choice(COUNTS)))


def either(*builds: Build, marks: bool = True) -> Build:
    """One of these, by marks (unless it may not be) or by an encoder's counts."""

    def build(day: Day) -> Sequence[Sweep]:
        one = builds[int(day.rng.integers(len(builds)))]
        tag = by_marks if marks and day.either() > 0 else by_counts
        day.source = "encoder"  # whose angles are true; what is told of them comes of the events
        day.through = lambda take: tag(day, take)
        return one(day)

    return build


def miscounted(day: Day) -> Sequence[Sweep]:
    """The encoder has other counts a turn than is told: the sweep ends when the told turn is full."""
    scale = float(day.rng.choice(SCALES))
    day.source = "encoder"
    take = day.take(day.form(), barred_path(day.rng, day.per_turn, False) / scale)
    return [counted(day, take, 3600, round(3600 / scale))]


MIXED = "as its parts, which stand by themselves above"

REGIMES = (
    Regime(
        "tagger",
        "tagger, plunger",
        either(
            contact.dead,
            contact.flicker,
            contact.creep,
            contact.end_of_travel,
            contact.stuck_arc,
            contact.stuck_at_crest,
        ),
        short=Short(MIXED, kept_max=0.03, covered_min=0.25),
    ),
    Regime(
        "tagger",
        "tagger, level",
        either(
            level.slip,
            level.big_slip,
            level.two_slips,
            level.knock,
            level.base_returns,
            level.drift,
            level.curved_drift,
        ),
        short=Short(MIXED, kept_max=0.04, replaced_max=0.08, covered_min=0.8),
    ),
    Regime(
        "tagger",
        "tagger, surface",
        either(
            surfaces.high_orders,
            surfaces.notches,
            surfaces.square_lobes,
            surfaces.swollen_arc,
            surfaces.two_dents,
            surfaces.narrow_many,
        ),
    ),
    Regime(
        "tagger",
        "tagger, noise and spikes",
        either(noise.correlated, noise.heavy_tails, noise.one_spike, noise.three_spikes),
        short=Short(MIXED, covered_min=0.88),
    ),
    Regime("tagger", "tagger, 1.5-5 turns", either(angles.turns), invalid_max=0.02),
    Regime(
        "tagger",
        "tagger, back and forth, or backward",
        either(angles.back_and_forth, angles.backward, marks=False),
    ),
    Regime("tagger", "tagger, other counts than told", miscounted, covers=False),
)
