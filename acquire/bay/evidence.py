"""An inspection as evidence: its readings tagged, its gauges with what tests said of them.

This is where numbers begin: it loads what is heavy, and is loaded only once something is to be graded.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from hashlib import sha256

from acquire.angle.tagger import tag_sweep
from acquire.bay.inspection import InspectionState, Take
from acquire.errors import FoldError
from acquire.journal.events import (
    ZERO,
    Mark,
    Observation,
    Resumed,
    Sample,
    Stopped,
    TypedLift,
    TypedRunout,
    TypedThickness,
)
from acquire.journal.typed import counting
from acquire.runs.lifts import judge_lifts
from acquire.runs.places import lost_among, places_taken, put_right, thickness_of, typed_beside
from config.method import LiftRules, sha256_of
from contract.gauge import GaugeFacts
from contract.kinds import KINDS, takes
from contract.terms import TYPED
from contract.units import NM_PER_MM
from grading.evidence import Attempt, Inspection, Observed, Sweep
from grading.gauge.repeats import Repeatability


def to_evidence(state: InspectionState) -> Inspection:
    """What the state means to grading; all readings tagged. The state must hold its samples. Raises FoldError
    where its method is not the one whose hash stands beside it: what is graded by an altered limit would bear
    the name of the right one."""
    opened = state.opened
    if opened.method_sha256 not in ("", sha256_of(opened.method)):
        raise FoldError(f"the method that {opened.inspection} was opened with is not what its hash says")
    attempts: dict[str, tuple[Attempt, ...]] = {}
    tests, zeros = lift_tests(state), _zeros(state)
    for finished in state.finished:
        check = finished.check if isinstance(finished, Observation) else finished.begun.check
        is_own = isinstance(finished, Observation) or not finished.begun.across
        if KINDS[check].is_check and is_own:
            attempts[check] = (*attempts.get(check, ()), _attempt(finished, tests, zeros))
    for taken in state.photos:
        attempts[taken.check] = (*attempts.get(taken.check, ()), Observed((), (taken.photo,)))
    return Inspection(
        id=opened.inspection,
        revision=state.revision,
        state=state.state,
        header=state.header,
        closed=state.closed_utc,
        signed=state.signed_utc,
        signed_by=None if state.signed is None else state.signed.name,
        decision=state.decision,
        remark=(state.signed.remark or None) if state.signed is not None else None,
        corrections=tuple(state.corrections),
        software=opened.software,
        readings_sha256=readings_sha256(state),
        method_sha256=opened.method_sha256,
        attempts=attempts,
        dropped=_dropped(state),
        alike=state.alike,
    )


def _dropped(state: InspectionState) -> dict[str, tuple[float, ...]]:
    """What sweeps that were cancelled had shown from lowest to highest, mm, by check."""
    found: dict[str, tuple[float, ...]] = {}
    for take in state.cancelled:
        check, shown = take.begun.check, list(_shown_nm(take))
        if takes(check) != "lifts" and shown:
            found[check] = (*found.get(check, ()), (max(shown) - min(shown)) / NM_PER_MM)
    return found


def _shown_nm(take: Take) -> Iterator[int]:
    """What its own gauge showed; of a casing, at its places."""
    if takes(take.begun.check) == "places":
        yield from (nm for place, nm in places_taken(take.begun, take.events) if place not in (None, ZERO))
        return
    for event in counting(take.events):
        if isinstance(event, TypedRunout):
            yield event.value_nm
        elif isinstance(event, Sample) and event.gauge == take.begun.gauge.id:
            yield event.value


def readings_sha256(state: InspectionState) -> str:
    """Over one line for each reading, mark and typed value that counts, in journal order (UTF-8, `\\n`)."""
    digest, zeros = sha256(), _zeros(state)
    for finished in state.finished:
        if isinstance(finished, Observation):
            continue
        if finished.begun.seq in zeros:
            digest.update(f"{finished.begun.check} zero {zeros[finished.begun.seq]}\n".encode())
        for event in counting(finished.events):
            match event:
                case Sample():
                    line = f"{event.gauge} {event.reading} {event.time_ns} {event.value} {event.unit}"
                    line += f" {event.u_ns}" if event.u_ns else ""
                case Mark():
                    line = f"mark {event.time_ns} {event.angle_udeg}"
                case Stopped():
                    line = f"stopped {event.at_ns} {event.angle_udeg}"
                case TypedRunout():
                    line = f"typed {event.angle_udeg} {event.value_nm}"
                    if event.low_nm is not None or event.high_nm is not None:
                        line += f" between {event.low_nm} {event.high_nm}"
                case TypedThickness():
                    line = f"typed {event.place.station_udeg} {event.place.radius} {event.value_nm}"
                case TypedLift():
                    line = f"typed {event.value_nm}"
                case _:
                    continue
            digest.update(f"{finished.begun.check} {line}\n".encode())
    return digest.hexdigest()


@dataclass(frozen=True, slots=True)
class LiftTest:
    """The repeatability tests of one gauge: the latest valid one, and why the latest does not count."""

    valid: Repeatability | None = None
    fault: str | None = None

    def of(self, gauge: GaugeFacts) -> GaugeFacts:
        """The gauge with what the tests said of it."""
        sd_mm, dof = (None, None) if self.valid is None else (self.valid.sd_mm, self.valid.dof)
        return replace(gauge, repeatability_mm=sd_mm, repeatability_dof=dof, repeatability_fault=self.fault)


def lift_tests(state: InspectionState) -> dict[tuple[str, int], LiftTest]:
    """The repeatability tests of an inspection, by gauge and the step of its display (nm).

    A test says what the gauge does in this inspection, so it counts for what was read before it too.
    """
    rules = LiftRules.model_validate(state.opened.method.get("lifts", {}))
    tests: dict[tuple[str, int], LiftTest] = {}
    for take in state.finished:
        if isinstance(take, Take) and takes(take.begun.check) == "lifts":
            gauge = take.begun.gauge
            key = gauge.id, gauge.resolution_nm
            valid, fault = judge_lifts(take.begun, take.events, rules)
            tests[key] = LiftTest(valid or tests.get(key, LiftTest()).valid, fault)
    return tests


def _opposite(take: Take, zeros: Mapping[int, int]) -> Sweep | None:
    """What the second gauge read of a face, where it was not dropped and one clock goes for both."""
    other = take.opposite
    if other is None or other.ended is None or other.ended.reason == "cancelled":
        return None
    if any(isinstance(event, Resumed) for event in take.events):
        return None
    return _tagged(other, zeros)


def _tagged(take: Take, zeros: Mapping[int, int]) -> Sweep:
    """Its readings at their angles, from the timing mark on where that is known."""
    angle = replace(take.begun.angle, zero=zeros.get(take.begun.seq))
    return tag_sweep([replace(take.begun, angle=angle), *take.events])


def _zeros(state: InspectionState) -> dict[int, int]:
    """Of each encoder's sweep, by its seq, where its timing mark is. Sweeps of a surface are taken together:
    where it is not known of one of them, all of them have the encoder's own angles."""
    zeros: dict[int, int] = {}
    takes_of: dict[str, list[Take]] = {}
    for take in state.finished:
        if isinstance(take, Take) and take.begun.angle.source == "encoder":
            takes_of.setdefault(take.begun.check, []).append(take)
    for takes_all in takes_of.values():
        known = {take.begun.seq: zero for take in takes_all if (zero := state.zero_of(take)) is not None}
        if len(known) == len(takes_all):
            zeros |= known
    return zeros


def _attempt(
    finished: Take | Observation, tests: Mapping[tuple[str, int], LiftTest], zeros: Mapping[int, int]
) -> Attempt:
    if isinstance(finished, Observation):
        return Observed(finished.items)
    begun = finished.begun
    test = tests.get((begun.gauge.id, begun.gauge.resolution_nm), LiftTest())
    if takes(begun.check) == "turn":
        sweep = _tagged(finished, zeros)
        return replace(sweep, gauge=test.of(sweep.gauge), opposite=_opposite(finished, zeros))
    if begun.gauge.id == TYPED:  # a dial was lifted, and thickness is typed off a micrometer
        test = LiftTest()
    thickness = thickness_of(places_taken(begun, finished.events), test.of(begun.gauge))
    return replace(
        thickness,
        put_right=put_right(finished.events),
        beside=typed_beside(begun, finished.events),
        lost=lost_among(begun, finished.events),
    )
