"""The crank angle of every reading of a sweep, and how well it is known. Pure.

Final tags, made when a sweep is over, look both ways: a reading between two known positions of the
crank, a share f of the time from one to the other, which are D degrees apart, lies at f·D after the
first. How well that is known:

    u² = u_position² + D²·f·(1 − f)/3 + (rate·u_time)²

The middle term is for a hand that does not turn evenly. Nothing but the two ends is known of it, so
midway the angle may be anywhere between them: rectangular over D, whose standard deviation is D/√12
(JCGM 100:2008, 4.3.7), and at either end it is known. D²·f·(1 − f)/3 is both, and has the shape of the
variance of a random walk that is pinned at both ends. With an encoder D is a fraction of a degree; with
marks it is large between them and small at them, and honestly so.
u_position is the encoder's step/√12, or how closely the crank stands at a mark. An encoder may move in
coarser steps than its frames can show: what its values differ by tells. rate is D over the time
between; u_time joins the latencies' uncertainties of gauge and encoder (a mark has none of its own).

A reading that was not read as it came (Sample.u_ns) came some time within ±√3·u_ns, and so did the encoder's
beside it: the crank may have been anywhere that it went meanwhile, D_late degrees apart, and D_late²/12 is
added, rectangular again.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from acquire.angle.covered import MARK_REACH_NS
from acquire.errors import FoldError
from acquire.journal.events import (
    AngleStated,
    Event,
    GaugeAway,
    GaugeBack,
    Mark,
    Resumed,
    Sample,
    SweepBegun,
    TypedRunout,
)
from acquire.journal.typed import counting
from contract.kinds import takes
from contract.terms import Surface
from contract.units import NM_PER_MM, UDEG_PER_DEG
from grading.evidence import F64, Sweep

I64 = NDArray[np.int64]

# Places that an encoder must have shown before its step is taken from them; that so many share a factor
# by chance is unlikely, and errs to the safe side.
MOVES_TO_TELL = 8


def unwrap(values: I64, per_turn: int) -> I64:
    """An encoder's values as one run of whole units, each step taken the shorter way round.

    Starts within [0, per_turn); serves encoders that wrap at a turn and those that count on.
    """
    if values.size == 0:
        return values
    steps = shorter_way(np.diff(values), per_turn)
    return np.concatenate([[0], np.cumsum(steps)]).astype(np.int64) + int(values[0]) % per_turn


def shorter_way(step: I64, per_turn: int) -> I64:
    """Differences of encoder values, reduced to half a turn at most; exactly half counts as backward."""
    half = per_turn // 2
    return (step + half) % per_turn - half


def tag_sweep(events: Sequence[Event]) -> Sweep:
    """The sweep of one run-out check, from its SweepBegun on, in journal order.

    Readings come out in order of time, each once, whatever the order and number in which they were
    kept. One without a known angle (before the first position, after the last, while the encoder was
    away, across a restart) is left out; the latter two are counted in `lost`, as are holes in the
    gauge's own numbering. Raises FoldError where the events are no run-out sweep.
    """
    begun = events[0] if events else None
    if not isinstance(begun, SweepBegun) or takes(begun.check) != "turn":
        raise FoldError("a run-out sweep must start with its beginning")
    if begun.angle.source == "typed":
        return _typed(begun, events)
    spells = [_Spell.of(begun, part) for part in _parts(events)]
    step = 0
    if begun.angle.source == "encoder":
        _join_encoder(spells, begun.angle)
        step = max(begun.angle.step, _seen_step([spell.known for spell in spells]))
    angle, u, value, time = [], [], [], []
    lost, clock_s = 0, 0.0
    for spell in spells:
        tagged, tags, tags_u, untagged = spell.tag(begun, step)
        lost += untagged + spell.holes
        angle.append(tags)
        u.append(tags_u)
        value.append(spell.values[tagged] / NM_PER_MM)
        if tagged.any():
            # Clocks of different spells do not compare: one spell's times go on where the last's ended.
            since_s = (spell.times[tagged] - spell.times[tagged][0]) / 1e9 + clock_s
            clock_s = float(since_s[-1])
            time.append(since_s)
    return Sweep(
        surface=_surface(begun),
        angle_deg=_joined(angle),
        value_mm=_joined(value),
        angle_u_deg=_joined(u),
        time_s=_joined(time),
        gauge=begun.gauge,
        radius_mm=None if begun.radius_nm is None else begun.radius_nm / NM_PER_MM,
        lost=lost,
        interrupted=tuple(_interruptions(events)),
    )


def _surface(begun: SweepBegun) -> Surface:
    """Whose turn it is."""
    return cast(Surface, begun.check)


def _typed(begun: SweepBegun, events: Sequence[Event]) -> Sweep:
    typed = [event for event in counting(events) if isinstance(event, TypedRunout)]
    return Sweep(
        surface=_surface(begun),
        angle_deg=np.array([event.angle_udeg for event in typed], dtype=np.float64) / UDEG_PER_DEG,
        value_mm=np.array([event.value_nm for event in typed], dtype=np.float64) / NM_PER_MM,
        angle_u_deg=np.full(len(typed), begun.angle.mark_u_udeg / UDEG_PER_DEG),
        time_s=np.zeros(len(typed)),
        gauge=begun.gauge,
        radius_mm=None if begun.radius_nm is None else begun.radius_nm / NM_PER_MM,
        low_mm=_seen_mm([event.low_nm for event in typed]),
        high_mm=_seen_mm([event.high_nm for event in typed]),
    )


def _seen_mm(seen: Sequence[int | None]) -> F64 | None:
    """What the needle showed between stops, NaN where nobody looked; None where nobody did at all."""
    if all(nm is None for nm in seen):
        return None
    return np.array([np.nan if nm is None else nm / NM_PER_MM for nm in seen], dtype=np.float64)


def _parts(events: Sequence[Event]) -> Iterator[list[Event]]:
    """The events between one start of the daemon and the next."""
    part: list[Event] = []
    for event in events:
        if isinstance(event, Resumed):
            yield part
            part = []
        part.append(event)
    yield part


@dataclass(slots=True)
class _Spell:
    """What one run of the daemon gives of a sweep; times are comparable within it only.

    times, values, holes: of the gauge. known_times, known: of the crank's positions, in the source's
    whole units. runs: slices of these between whose ends nothing broke.
    """

    times: I64
    values: I64
    late: I64
    holes: int
    known_times: I64
    known: I64
    known_late: I64
    runs: list[slice]

    @classmethod
    def of(cls, begun: SweepBegun, events: Sequence[Event]) -> _Spell:
        samples = [event for event in events if isinstance(event, Sample)]
        times, values, numbers, late = _sorted(s for s in samples if s.gauge == begun.gauge.id)
        if events[0] is begun:  # taken before the sweep began: not of it
            of_it = times >= begun.time_ns
            times, values, numbers, late = times[of_it], values[of_it], numbers[of_it], late[of_it]
        holes = int(numbers[-1] - numbers[0]) + 1 - numbers.size if numbers.size else 0
        if begun.angle.source == "marks":
            marks = sorted((e.time_ns, e.seq, e.angle_udeg) for e in events if isinstance(e, Mark))
            known_times = np.array([m[0] for m in marks], dtype=np.int64)
            known = np.array([m[2] for m in marks], dtype=np.int64)
            known_late = np.zeros_like(known)
            breaks: list[int] = []
        else:
            known_times, known, _, known_late = _sorted(s for s in samples if s.gauge == begun.angle.gauge)
            away = [e.time_ns for e in events if isinstance(e, GaugeAway) and e.gauge == begun.angle.gauge]
            breaks = sorted({int(np.searchsorted(known_times, time, side="left")) for time in away})
        edges = [0, *(b for b in breaks if 0 < b < known.size), known.size]
        runs = [slice(a, b) for a, b in itertools.pairwise(edges) if b > a]
        return cls(times, values, late, holes, known_times, known, known_late, runs)

    def tag(self, begun: SweepBegun, step: int) -> tuple[NDArray[np.bool_], F64, F64, int]:
        """Which readings have an angle, those angles and their u in degrees, how many within have none."""
        source = begun.angle
        tagged = np.zeros(self.times.size, dtype=bool)
        angle, u = np.zeros(self.times.size), np.zeros(self.times.size)
        by_marks = source.source == "marks"
        reach_ns = MARK_REACH_NS if by_marks else 0
        u_position = _u_position_deg(source, step)
        u_time_ns = float(np.hypot(begun.gauge.latency_u_ns, source.latency_u_ns))
        for run in self.runs:
            t, a = self.known_times[run], _degrees(self.known[run], source)
            here = (self.times >= t[0] - reach_ns) & (self.times <= t[-1] + reach_ns)
            angle[here], u[here] = _between(self.times[here], t, a, u_position, u_time_ns)
            if self.late[here].any() or self.known_late[run].any():
                d_late = _late_deg(self.times[here], self.late[here], t, a, self.known_late[run])
                u[here] = np.sqrt(u[here] ** 2 + d_late**2 / 12)
            tagged |= here
        untagged = 0
        if tagged.any():
            where = np.flatnonzero(tagged)
            untagged = int((~tagged[where[0] : where[-1]]).sum())
        return tagged, angle[tagged], u[tagged], untagged


def _between(times: I64, t: I64, a: F64, u_position: float, u_time_ns: float) -> tuple[F64, F64]:
    """Angles and their u at `times`, from positions `a` known at `t`; see the head of this file."""
    if t.size == 1:
        return np.full(times.size, a[0]), np.full(times.size, u_position)
    right = np.clip(np.searchsorted(t, times, side="right"), 1, t.size - 1)
    t0, t1, a0, a1 = t[right - 1], t[right], a[right - 1], a[right]
    span = np.maximum(t1 - t0, 1).astype(np.float64)
    share = np.clip((times - t0) / span, 0.0, 1.0)
    step = a1 - a0
    outside_ns = np.maximum(np.maximum(t[0] - times, times - t[-1]), 0)
    rate = step / span
    variance: F64 = (
        u_position**2
        + step**2 * share * (1.0 - share) / 3.0
        + (rate * u_time_ns) ** 2
        + (rate * outside_ns) ** 2
    )
    u: F64 = np.sqrt(variance)
    return a0 + step * share, u


def _late_deg(times: I64, late: I64, t: I64, a: F64, known_late: I64) -> F64:
    """How far apart, in degrees, the crank's furthest places are within the time that a reading may have come
    in; 0 where both it and the positions on either side were read as they came."""
    right = np.clip(np.searchsorted(t, times, side="right"), min(1, t.size - 1), t.size - 1)
    beside = np.maximum(known_late[np.maximum(right - 1, 0)], known_late[right])
    half_ns = 3**0.5 * np.hypot(late, beside)
    first = np.interp(times - half_ns, t, a)
    last = np.interp(times + half_ns, t, a)
    low, high = np.minimum(first, last), np.maximum(first, last)
    for n in np.flatnonzero(half_ns):  # a crank that is barred back is furthest somewhere between
        between = a[np.searchsorted(t, times[n] - half_ns[n]) : np.searchsorted(t, times[n] + half_ns[n])]
        if between.size:
            low[n], high[n] = min(low[n], between.min()), max(high[n], between.max())
    found: F64 = high - low
    return found


def _join_encoder(spells: Iterable[_Spell], source: AngleStated) -> None:
    """Unwrap the encoder over all spells: from one to the next the crank is taken to have come the
    shorter way, as nothing was seen of it."""
    before: int | None = None
    for spell in spells:
        raw = spell.known
        if raw.size == 0:
            continue
        run = unwrap(raw, source.per_turn)
        if before is not None:
            step = shorter_way(np.array([int(run[0]) - before], dtype=np.int64), source.per_turn)
            run = run - run[0] + before + step[0]
        spell.known = run
        before = int(run[-1])
    if source.reversed:
        for spell in spells:
            spell.known = -spell.known


def _seen_step(runs: Sequence[I64]) -> int:
    """The largest step of which all movements of the encoder are whole numbers; 0 where too few are seen."""
    away = [np.zeros(0, dtype=np.int64), *(np.abs(run - run[0]) for run in runs if run.size)]
    moves = np.unique(np.concatenate(away))[1:]
    return int(np.gcd.reduce(moves)) if moves.size >= MOVES_TO_TELL else 0


def _u_position_deg(source: AngleStated, step: int) -> float:
    if source.source == "marks":
        return source.mark_u_udeg / UDEG_PER_DEG
    return float(360.0 * step / source.per_turn / 12**0.5)


def _degrees(known: I64, source: AngleStated) -> F64:
    per_turn = 360 * UDEG_PER_DEG if source.source == "marks" else source.per_turn
    return known.astype(np.float64) * (360.0 / per_turn)


def _sorted(samples: Iterable[Sample]) -> tuple[I64, I64, I64, I64]:
    """Times, values, numbers (in order) and u_ns of one gauge's readings, in order of time, each once."""
    once = {sample.reading: sample for sample in samples}
    rows = sorted((s.time_ns, s.reading, s.value, s.u_ns) for s in once.values())
    table = np.array(rows, dtype=np.int64).reshape(-1, 4)
    numbers = np.sort(table[:, 1])
    return table[:, 0], table[:, 2], numbers, table[:, 3]


def _interruptions(events: Sequence[Event]) -> Iterator[str]:
    """One plain phrase for each spell without the gauge, the encoder or the daemon, as they began."""
    for place, event in enumerate(events):
        if isinstance(event, Resumed):
            yield "the daemon was restarted"
        elif isinstance(event, GaugeAway):
            yield f"{event.gauge} was away {_how_long(event, events[place + 1 :])}"


def _how_long(away: GaugeAway, after: Sequence[Event]) -> str:
    for event in after:
        if isinstance(event, GaugeBack) and event.gauge == away.gauge:
            return f"for {(event.time_ns - away.time_ns) / 1e9:.1f} s"
        if isinstance(event, Resumed):
            return "until a restart"
    return "until the end"


def _joined(parts: Sequence[F64]) -> F64:
    return np.concatenate([np.zeros(0), *parts]).astype(np.float64)
