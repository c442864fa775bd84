"""The crank between two of its known positions, by time alone. Pure.

A reading between two positions, a share f of the time from one to the other, which are D degrees apart, lies
at f·D after the first. How well that is known:

    u² = u_position² + D²·f·(1 − f)/3 + (rate·u_time)²

The middle term is for a hand that does not turn evenly. Nothing but the two ends is known of it, so midway
the angle may be anywhere between them: rectangular over D, whose standard deviation is D/√12
(JCGM 100:2008, 4.3.7), and at either end it is known. D²·f·(1 − f)/3 is both, and has the shape of the
variance of a random walk that is pinned at both ends. rate is D over the time between; u_time joins the
latencies' uncertainties of gauge and encoder.

A reading that was not read as it came (Sample.u_ns) came some time within ±√3·u_ns, and so did the position
beside it: the crank may have been anywhere that it went meanwhile, D_late degrees apart, and D_late²/12 is
added, rectangular again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.angle.spell import I64, Readings
from acquire.angle.tags import Tags
from grading.evidence import F64


@dataclass(frozen=True, slots=True)
class Known:
    """Positions of the crank in order of time, shape (k,): ns, degrees as barred, ns of lateness. runs:
    slices of these between whose ends nothing broke."""

    times: I64
    angle_deg: F64
    late: I64
    runs: list[slice]


def by_time(gauge: Readings, known: Known, reach_ns: int, u_position_deg: float, u_time_ns: float) -> Tags:
    """Tags by the formula at the head of this file; none across a break."""
    times, tags = gauge.times, Tags.none(gauge.times.size)
    for run in known.runs:
        t, a = known.times[run], known.angle_deg[run]
        here = (times >= t[0] - reach_ns) & (times <= t[-1] + reach_ns)
        angle, u = _between(times[here], t, a, u_position_deg, u_time_ns)
        if gauge.late[here].any() or known.late[run].any():
            d_late = late_deg(times[here], gauge.late[here], t, a, known.late[run])
            u = np.sqrt(u**2 + d_late**2 / 12)
        tags.angle_deg[here], tags.u_deg[here] = angle, u
        tags.known[here] = True
    return tags


def _between(times: I64, t: I64, a: F64, u_position: float, u_time_ns: float) -> tuple[F64, F64]:
    """Angles and their u at `times`, from positions `a` known at `t`."""
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


def late_deg(times: I64, late: I64, t: I64, a: F64, known_late: I64) -> F64:
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
