"""Sweeps as they come out of the tagger: journal events of marks pressed well and badly, of coarse counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from acquire.angle.tagger import tag_sweep
from acquire.journal.events import AngleStated, Event, Mark, Sample, SweepBegun
from contract.gauge import GaugeFacts
from contract.units import NM_PER_MM, UDEG_PER_DEG, Unit
from grading.evidence import F64, Sweep
from tests.grading.adverse.day import Day, Take
from tests.grading.adverse.regime import Regime, Short
from tests.grading.synthetic import barred_path

PER_TURN = (3, 4, 6, 8)
MARK_U_DEG = 0.5
Presses = list[tuple[float, int]]


def _take(day: Day) -> Take:
    """A turn whose true angles are known at every reading; what is told of them comes of the events."""
    day.source = "encoder"
    return day.take(day.form(), barred_path(day.rng, day.per_turn, False))


def _begun(day: Day, angle: AngleStated) -> SweepBegun:
    gauge = GaugeFacts(
        id="rim-1",
        resolution_mm=day.gauge.resolution_mm,
        mpe_mm=day.gauge.mpe_mm,
    )
    return SweepBegun(inspection="i-1", time_ns=0, check=day.surface, gauge=gauge, angle=angle)


def _ns(seconds: float) -> int:
    return 1_000_000_000 + round(seconds * 1e9)


def _samples(gauge: str, seconds: F64, values: F64, unit: Unit) -> list[Event]:
    return [
        Sample(inspection="i-1", time_ns=_ns(t), gauge=gauge, reading=i, value=round(v), unit=unit)
        for i, (t, v) in enumerate(zip(seconds.tolist(), values.tolist(), strict=True))
    ]


def _tagged(begun: SweepBegun, events: list[Event]) -> Sweep:
    return tag_sweep([begun, *sorted(events, key=lambda event: event.time_ns)])


def pressed(day: Day, spacing: float, take: Take, presses: Presses, whole_deg: float = 360.0) -> Sweep:
    """The sweep from readings and (seconds, number of spacings) as pressed; it ends with the press that fills
    the told turn, or more of them, if it comes to that."""
    presses = sorted(presses)
    day.presses_s = tuple(t for t, _ in presses)
    full = [t for t, steps in presses if steps * spacing >= whole_deg]
    end = min(full, default=np.inf)
    shown = day.shown(take)
    # As at the bay: over with the first reading after the mark that fills the turn.
    kept = np.append(True, take.time_s[:-1] < end)
    events = _samples("rim-1", take.time_s[kept], shown[kept] * NM_PER_MM, Unit.NM)
    events += [
        Mark(inspection="i-1", time_ns=_ns(t), angle_udeg=round(steps * spacing * UDEG_PER_DEG))
        for t, steps in presses
        if t <= end
    ]
    angle = AngleStated(source="marks", mark_u_udeg=round(MARK_U_DEG * UDEG_PER_DEG))
    return _tagged(_begun(day, angle), events)


def times_at_marks(day: Day, take: Take, spacing: float, whole: float = 360.0) -> F64:
    """When the crank stands at each mark of what is taken for a turn, seconds, by a hand good to half a
    degree."""
    at = np.arange(0, whole + 1, spacing)
    off = day.rng.normal(0, MARK_U_DEG, at.size) * (at > 0)
    return np.asarray(np.interp(at + off, take.path, take.time_s))


def exact(day: Day) -> Sequence[Sweep]:
    """Marks pressed where they are, to half a degree."""
    spacing = 360 / int(day.rng.choice(PER_TURN))
    take = _take(day)
    presses = [(float(t), i) for i, t in enumerate(times_at_marks(day, take, spacing))]
    return [pressed(day, spacing, take, presses)]


def double_press(day: Day) -> Sequence[Sweep]:
    """One or two marks pressed twice within 0.3 to 1 s: 240 degrees pass for a turn of three marks."""
    count = int(day.rng.choice(PER_TURN))
    spacing = 360 / count
    take = _take(day)
    times = times_at_marks(day, take, spacing)
    doubled = day.rng.choice(count - 1, 2 if count > 3 and day.either() > 0 else 1, replace=False)
    all_times = sorted([*times.tolist(), *(float(times[i]) + day.rng.uniform(0.3, 1.0) for i in doubled)])
    return [pressed(day, spacing, take, [(t, i) for i, t in enumerate(all_times)])]


def late_or_early(day: Day) -> Sequence[Sweep]:
    """Every mark pressed 0.5 to 2 s early or late: no more to be seen than in an uneven hand."""
    spacing = 360 / int(day.rng.choice(PER_TURN))
    take = _take(day)
    times = times_at_marks(day, take, spacing)
    off = [day.either() * day.rng.uniform(0.5, 2) for _ in times]
    moved = np.maximum.accumulate(np.clip(times + off, 0.0, float(take.time_s[-1])))
    return [pressed(day, spacing, take, [(float(t), i) for i, t in enumerate(moved)])]


def standing(day: Day) -> Sequence[Sweep]:
    """The crank stands all through; the marks of a whole turn are pressed one after the other."""
    count = int(day.rng.choice(PER_TURN))
    day.source = "encoder"
    take = day.take(day.form(), np.full(day.per_turn, day.rng.uniform(0, 360)))
    times = np.linspace(0, float(take.time_s[-1]), count + 1)
    return [pressed(day, 360 / count, take, [(float(t), i) for i, t in enumerate(times)])]


def spaced(*shares: float) -> Callable[[Day], Sequence[Sweep]]:
    """Marks lie this many times as far apart as is told, each of these in turn: with 1/2 half a turn passes
    for one, with 3/2 a turn and a half."""

    def build(day: Day) -> Sequence[Sweep]:
        share = shares[day.number % len(shares)]
        spacing = 360 / int(day.rng.choice(PER_TURN))
        path = barred_path(day.rng, day.per_turn, False)
        if share > 1:
            path = np.concatenate([path[path < 360], 360 + barred_path(day.rng, day.per_turn, False)])
        day.source = "encoder"
        take = day.take(day.form(), path)
        times = times_at_marks(day, take, spacing * share, 360 * share)
        return [pressed(day, spacing, take, [(float(t), i) for i, t in enumerate(times)])]

    return build


def counted(day: Day, take: Take, per_turn: int, told: int | None = None) -> Sweep:
    """The sweep by an encoder of so many counts a turn, read as often as the gauge. told: how many it is said
    to have; None: as many as it has."""
    shown = day.shown(take)
    count = np.floor(take.path / 360 * per_turn + day.rng.uniform(0, 1))
    angle = AngleStated(source="encoder", gauge="crank-1", unit=Unit.COUNT, per_turn=told or per_turn)
    events = _samples("rim-1", take.time_s, shown * NM_PER_MM, Unit.NM)
    lag = float(take.time_s[1]) * day.rng.uniform(0.1, 0.9)
    at = np.interp(take.time_s - lag, take.time_s, np.arange(take.size, dtype=np.float64))
    moved = count[np.floor(at).astype(int)]
    events += _samples("crank-1", take.time_s - lag, moved, Unit.COUNT)
    return _tagged(_begun(day, angle), events)


def one_degree(day: Day) -> Sequence[Sweep]:
    """An encoder of 360 counts a turn."""
    return [counted(day, _take(day), 360)]


# By marks the slope at which it began and ends is no evidence either: the pace differs.
MEETS = Short(
    "where both ends of a part of a turn happen to meet in height, one turn by marks shows a surface of its "
    "own; `excluded` says so, and a second turn shows it",
    kept_max=0.05,
    covered_min=0.15,
)

REGIMES = (
    Regime("marks", "marks, exact", exact, invalid_max=0.02),
    Regime(
        "marks",
        "marks, pressed twice",
        double_press,
        short=Short(
            "by the presses' times, which the bay asks about, all are found; readings alone may close",
            kept_max=0.08,
            covered_min=0.3,
        ),
    ),
    Regime("marks", "marks, pressed at a stand", standing),
    Regime("marks", "marks, early or late", late_or_early, can_be_seen=False),
    Regime("marks", "marks, half a turn told to be one", spaced(1 / 2), short=MEETS),
    Regime("marks", "marks, 2/3 or 3/4 of a turn told to be one", spaced(2 / 3, 3 / 4), short=MEETS),
    Regime("marks", "marks, 4/3 or 3/2 turns told to be one", spaced(4 / 3, 3 / 2)),
    Regime("marks", "encoder of 1 deg", one_degree, invalid_max=0.02),
)
