"""Two indicators on one face, half a turn apart: what moves with both is end float, what moves against each
other is tilt.

With the crank at an angle one reads F(angle) + x, the other F(angle + 180) + x: F is the face, x how far the
crank has slid along its axis. Half their difference holds no x, half their sum no wave of an odd order of
the face. This is the separation of axial from tilt motion by two indicators on a face, and the idea of
reversal (Donaldson 1972; ISO 230-7, annex on error separation; from memory): there part and indicator are
turned, here the second indicator stands where the first would be after it.

Only steps are taken off. Once around, a float that keeps pace with the crank reads like indicators that stand
on different radii or not quite opposite; and what comes twice a turn is the same in both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from config.runout import EndFloat, SweepRules
from contract.words import count_of
from grading.evidence import Sweep
from grading.signs.faults import disturbances
from grading.signs.jumps import find_jumps
from grading.signs.levels import LevelStep, clock_s, fit_steps, smooth
from grading.signs.prepared import Prepared, prepare
from grading.surface.coverage import judge_coverage

ASK = (
    "are they opposite each other, on one radius, and does each count up as its plunger goes in? Hold the "
    "crankshaft to one end of its float, and take the sweep again"
)


@dataclass(frozen=True, slots=True)
class Facing:
    """What came of looking at both.

    sweep: the first one's, steps that both prove taken off. other: the second one's likewise, turned by half
    a turn so that both are of one face; None where it says nothing. taken_off: those steps. tilt: cosine and
    sine of the once-around wave in half their difference, mm. apart_mm: amplitude of the once-around wave in
    half their sum. unproven: steps of both were left in. doubt: what is wrong with the second, where that
    leaves open what the first one's jumps are. fault: why the check cannot stand. notes: what to look at.
    """

    sweep: Sweep
    other: Sweep | None = None
    taken_off: tuple[LevelStep, ...] = ()
    tilt: tuple[float, float] | None = None
    apart_mm: float | None = None
    unproven: bool = False
    doubt: str | None = None
    fault: str | None = None
    notes: tuple[str, ...] = ()


def half_difference(one: complex, other: complex) -> complex:
    """Of one wave of an odd order as both read it: the face's own."""
    return (one - other) / 2


def half_sum(one: complex, other: complex) -> complex:
    """Of the same: what moved with both."""
    return (one + other) / 2


def face_both(sweep: Sweep, rules: SweepRules, asked: EndFloat) -> Facing:
    """Look at a sweep and at what the second indicator read meanwhile (`sweep.opposite`)."""
    second = sweep.opposite
    assert second is not None
    alone = replace(sweep, opposite=None)
    poor = next((one for one in (alone, second) if not _can_be_looked_at(one, asked.min_readings)), None)
    if poor is not None:
        return Facing(alone, notes=(_does_not_count(second, _poor(poor, asked.min_readings)),))
    both = prepare(alone, rules), prepare(second, rules)
    steps, odd = _common_steps(both, asked, rules)
    mine, theirs = _without(alone, steps[0]), _without(second, steps[1])
    faults = judge_coverage(theirs, rules) or disturbances(prepare(theirs, rules), rules)
    if faults:
        said = _does_not_count(second, faults[0])
        return Facing(alone, doubt=said, notes=(said,))
    one, other = _once_around(mine), _once_around(theirs)
    tilt, apart = half_difference(one, other), half_sum(one, other)
    found = Facing(
        alone,
        other=replace(second, angle_deg=second.angle_deg + 180.0),
        tilt=(tilt.real, tilt.imag),
        apart_mm=abs(apart),
    )
    if abs(apart) > asked.max_apart_share * abs(tilt) + asked.least_tilt_mm:
        said = (
            f"{sweep.gauge.id} and {second.gauge.id} do not show one tilt: once around, half their "
            f"difference is {abs(tilt):.3f} mm and half their sum {abs(apart):.3f} mm; {ASK}"
        )
        return replace(found, fault=said)
    notes = [*_alone_said(sweep, second, odd)]
    if not steps[0]:
        return replace(found, notes=tuple(notes))
    why = _unproven(both, tilt, apart, asked)
    if why is not None:
        return replace(found, notes=(*notes, f"end float was not taken off: {why}"), unproven=True)
    said = ", ".join(f"{step.height_mm:+.3f} mm at {step.angle_deg % 360.0:.0f} degrees" for step in steps[0])
    notes.append(f"end float, shown by both indicators, was taken off: {said}")
    # What the second one does wrong enters by half: the step is the mean of both.
    u = float(np.hypot(np.sqrt(sum(step.u_mm**2 for step in steps[0])), second.gauge.mpe_mm / 2 / 3**0.5))
    return replace(
        found,
        sweep=replace(mine, float_u_mm=u),
        other=replace(theirs, angle_deg=theirs.angle_deg + 180.0),
        taken_off=steps[0],
        notes=tuple(notes),
    )


def _can_be_looked_at(sweep: Sweep, fewest: int) -> bool:
    finite = np.isfinite(sweep.value_mm).all() and np.isfinite(sweep.angle_deg).all()
    return bool(sweep.angle_deg.size >= fewest and finite)


def _poor(sweep: Sweep, fewest: int) -> str:
    given = sweep.angle_deg.size
    if given >= fewest:
        return f"{sweep.gauge.id} gave readings that are no numbers"
    return f"{sweep.gauge.id} gave {count_of(given, 'reading')}, at least {fewest} are needed"


def _does_not_count(second: Sweep, why: str) -> str:
    return (
        f"the second indicator, {second.gauge.id}, does not count, and end float cannot be told by one: {why}"
    )


def _unproven(both: tuple[Prepared, Prepared], tilt: complex, apart: complex, asked: EndFloat) -> str | None:
    """Why a step of both is no proof of end float; None where it is."""
    if both[0].running or both[1].running:
        return "between marks no angle is known by itself; it takes an encoder"
    if abs(tilt) < asked.least_tilt_mm:
        return "the tilt is too small to show that the two indicators stand opposite each other"
    if abs(apart) > asked.max_apart_share * abs(tilt):
        return f"the two indicators do not show one tilt well enough; {ASK}"
    return None


def _alone_said(first: Sweep, second: Sweep, odd: Sequence[tuple[int, LevelStep]]) -> list[str]:
    ids = first.gauge.id, second.gauge.id
    return [
        f"{ids[which]} alone jumped, by {step.height_mm:+.3f} mm at {step.angle_deg % 360.0:.0f} degrees, "
        f"and {ids[1 - which]} did not: a knock at its base, or an edge of the face; no end float"
        for which, step in odd
    ]


# -- steps


Steps = tuple[tuple[LevelStep, ...], tuple[LevelStep, ...]]


def _common_steps(
    both: tuple[Prepared, Prepared], asked: EndFloat, rules: SweepRules
) -> tuple[Steps, list[tuple[int, LevelStep]]]:
    """Steps that both show at one time and by one height, as each has its own angle for them; and those that
    one shows alone, each with which one it is."""
    times = _times_of(both, asked.same_s, rules)
    fits = [
        fit_steps(one.clean, [each[which] for each in times], rules.drift_mm)
        for which, one in enumerate(both)
    ]
    common: list[tuple[LevelStep, LevelStep]] = []
    odd: list[tuple[int, LevelStep]] = []
    for one, other in zip(*fits, strict=True):
        u = float(np.hypot(one.u_mm, other.u_mm))
        apart, size = abs(one.height_mm - other.height_mm), min(abs(one.height_mm), abs(other.height_mm))
        least = max(rules.signs.jump_mm, rules.signs.slip_u * u)
        same = apart <= max(rules.signs.slip_u * u, asked.same_mm, asked.same_share * size)
        same = same and abs(one.angle_deg - other.angle_deg) <= asked.same_deg
        if same and size > least and not _comes_again(both, one, times, asked, rules.drift_mm):
            mean, wrong = (one.height_mm + other.height_mm) / 2, max(u / 2, apart / 2)
            common.append(
                (replace(one, height_mm=mean, u_mm=wrong), replace(other, height_mm=mean, u_mm=wrong))
            )
        elif apart > least and size <= least:
            which = int(abs(other.height_mm) > abs(one.height_mm))
            odd.append((which, (one, other)[which]))
    return (tuple(one for one, _ in common), tuple(other for _, other in common)), odd


def _times_of(both: tuple[Prepared, Prepared], same_s: float, rules: SweepRules) -> list[tuple[float, float]]:
    """When the level of either jumped, or of half their sum, in which no tilt hides it; for each of the two:
    half-way between the readings around it."""
    found: list[list[float | None]] = []
    for which, one in enumerate(both):
        at = clock_s(one.clean)
        for jump in one.jumps:
            time_s = float(at[jump.after - 1] + at[jump.after]) / 2
            near = next(
                (each for each in found if each[which] is None and abs(_any(each) - time_s) <= same_s), None
            )
            if near is None:
                near = [None, None]
                found.append(near)
            near[which] = time_s
    sum_of = _half_sum_of(both[0].clean, both[1].clean)
    at = clock_s(sum_of)
    for jump in find_jumps(sum_of, rules.signs):
        time_s = float(at[jump.after - 1] + at[jump.after]) / 2
        if all(abs(_any(each) - time_s) > same_s for each in found):
            found.append([time_s, time_s])
    return sorted((_or(a, b), _or(b, a)) for a, b in found)


def _half_sum_of(one: Sweep, other: Sweep) -> Sweep:
    """Half the sum of both at the first one's readings, as a sweep."""
    there = np.interp(clock_s(one), clock_s(other), other.value_mm)
    return replace(one, value_mm=(one.value_mm + there) / 2)


def _any(each: Sequence[float | None]) -> float:
    return next(one for one in each if one is not None)


def _or(one: float | None, other: float | None) -> float:
    return _any([one, other])


def _comes_again(
    both: tuple[Prepared, Prepared],
    step: LevelStep,
    times: Sequence[tuple[float, float]],
    asked: EndFloat,
    drift_mm: float,
) -> bool:
    """Whether an edge of the face may make this step: two edges half a turn apart pass both indicators at
    once, and pass both again half a turn later. Where that cannot be seen, they may."""
    seen = False
    for which, one in enumerate(both):
        sweep = one.clean
        at, angle = clock_s(sweep), sweep.angle_deg
        for place in (step.angle_deg - 180.0, step.angle_deg + 180.0):
            crossing = np.flatnonzero((angle[:-1] < place) != (angle[1:] < place))
            if not crossing.size:
                continue
            again_s = float(at[crossing[0]] + at[crossing[0] + 1]) / 2
            own = [each[which] for each in times]
            # A jump that was found there is the one; else one is laid through the place itself.
            there = [
                time_s
                for time_s in own
                if abs(time_s - again_s) <= asked.same_s
                or abs(float(np.interp(time_s, at, angle)) - place) <= 2 * asked.same_deg
            ]
            elsewhere = [time_s for time_s in own if time_s not in there]
            for time_s in there or [again_s]:
                found = fit_steps(sweep, [*elsewhere, time_s], drift_mm)[-1]
                if found.u_mm > asked.known_share * abs(step.height_mm):
                    continue
                if found.height_mm * step.height_mm > 0 and abs(found.height_mm) > abs(step.height_mm) / 2:
                    return True
                seen = seen or which == 0
    return not seen


def _without(sweep: Sweep, steps: Sequence[LevelStep]) -> Sweep:
    """The sweep with these steps taken off, from where the crank was barred to them on."""
    if not steps:
        return sweep
    value = sweep.value_mm.copy()
    for step in steps:
        value[_from(sweep, step) :] -= step.height_mm
    return replace(sweep, value_mm=value)


def _from(sweep: Sweep, step: LevelStep) -> int:
    return int(np.searchsorted(clock_s(sweep), step.clock_s))


def _once_around(sweep: Sweep) -> complex:
    """The once-around wave as it is read: cosine and sine, mm, as real and imaginary part."""
    found, *_ = np.linalg.lstsq(smooth(sweep), sweep.value_mm, rcond=None)
    return complex(found[2], found[3])
