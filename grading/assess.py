"""An inspection's evidence and its method, to the result: a pure function."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import TypeVar, cast

from config.method import CHECKS, Method
from contract.kinds import Takes, takes
from contract.result import Check, Checks, MethodPart, NextDue, Result, SurfaceCheck, ThicknessCheck
from contract.terms import ObservedName, Surface
from grading.decision.verdict import reasons_of, verdict_of
from grading.evidence import Attempt, Inspection, Observed, Sweep, Thickness
from grading.kinds.byitself import ByItself, Look
from grading.kinds.surfaces import judge_surface
from grading.kinds.thickness import judge_thickness
from grading.kinds.unmoved import unmoved
from grading.observed.visual import judge_observed
from grading.programme.schedule import next_due
from grading.programme.suitability import unsuitable
from grading.surface.coverage import angles_run_on

REGISTER_UNREAD = (
    "the register had not been read when this was opened: rating and kind of damper are only as told then"
)
"""What is said of an inspection that a bay opened just after its start."""


def assess(inspection: Inspection, method: Method, look: Look = ByItself) -> Result:
    """Grade every check that the scope requires or that was tried, and add them up.

    No I/O, no clock, no chance: the same evidence and method give the same result. look: looks at each sweep
    by itself. Raises ValueError where the evidence names a check there is none of, or holds an attempt of
    another kind.
    """
    unknown = sorted(set(inspection.attempts) - set(CHECKS))
    if unknown:
        raise ValueError(f"there is no check {unknown[0]}; there are {', '.join(CHECKS)}")
    header, sha256 = inspection.header, inspection.method_sha256 or method.sha256()
    method = method.of_damper(header.damper.family, header.damper.edge)
    required = method.required_checks(header.scope)
    on = _day(header.opened)
    checks: dict[str, Check] = {
        name: judge(name, inspection.attempts.get(name, ()), method, on=on, look=look)
        for name in CHECKS
        if name in required or inspection.attempts.get(name)
    }
    checks |= _not_twice(checks, inspection, method)
    checks |= _with_dropped(checks, inspection.dropped, method)
    checks |= _with_alike(checks, inspection.alike)
    amiss = unsuitable(
        method.suitability,
        family=header.damper.family,
        construction=header.damper.edge,
        rating_kw=header.engine.rating_kw,
    )
    if amiss is not None:
        checks["suitability"] = amiss
    verdict = verdict_of({name: check.outcome for name, check in checks.items()})
    return Result(
        **dict(header),
        inspection=inspection.id,
        revision=inspection.revision,
        state=inspection.state,
        closed=inspection.closed,
        signed=inspection.signed,
        signed_by=inspection.signed_by,
        decision=inspection.decision,
        remark=inspection.remark,
        corrections=inspection.corrections or None,
        method=MethodPart(id=method.id, version=method.version, sha256=sha256),
        checks=Checks.model_validate(checks),
        verdict=verdict,
        reasons=(*reasons_of(verdict, checks), *((REGISTER_UNREAD,) if header.register_unread else ())),
        next_due=_next_due(inspection, method, on)
        if {verdict, inspection.decision or verdict} == {"keep"}
        else None,
        software=inspection.software,
        readings_sha256=inspection.readings_sha256,
    )


def judge(
    name: str,
    attempts: Sequence[Attempt],
    method: Method,
    *,
    on: date | None = None,
    look: Look = ByItself,
) -> Check:
    """One check from all its attempts, oldest first; `on` is the day of the inspection.

    Raises ValueError for an attempt that is not of the check's kind.
    """
    check = JUDGES[takes(name)](name, attempts, method, on, look)
    words = method.worded(name, check.outcome, check.reason)
    return check if words == check.reason else check.model_copy(update={"reason": words})


def _not_twice(checks: dict[str, Check], inspection: Inspection, method: Method) -> dict[str, Check]:
    """The face, unclear where what was read may be the rim once more; and the rim too, where two indicators
    may both have read the face."""
    rim, face = checks.get("rim"), checks.get("face")
    if not isinstance(rim, SurfaceCheck) or not isinstance(face, SurfaceCheck) or face.outcome != "within":
        return {}
    sweeps = (one for name in ("rim", "face") for one in inspection.attempts.get(name, ()))
    by_marks = any(
        isinstance(one, Sweep) and one.angle_u_deg.size > 0 and angles_run_on(one) for one in sweeps
    )
    said = unmoved(rim, face, method.face, by_marks=by_marks)
    if said is None:
        return {}
    is_both = rim.outcome == "within" and rim.gauge != face.gauge
    return {
        name: check.model_copy(update={"outcome": "unclear", "reason": method.worded(name, "unclear", said)})
        for name, check in (("rim", rim), ("face", face))
        if name == "face" or is_both
    }


def _with_dropped(
    checks: dict[str, Check], dropped: Mapping[str, Sequence[float]], method: Method
) -> dict[str, Check]:
    """Of each check that is within: what sweeps had shown that were cancelled, where that is over. What no
    surface and no casing shows is a gauge that was being set up."""
    found: dict[str, Check] = {}
    for name, each in dropped.items():
        check = checks.get(name)
        if not isinstance(check, (SurfaceCheck, ThicknessCheck)) or check.outcome != "within":
            continue
        is_turn = isinstance(check, SurfaceCheck)
        most_mm = method.surface(cast(Surface, name)).inch_most_mm if is_turn else method.thickness.absurd_mm
        said = tuple(
            f"a {'turn' if is_turn else 'set'} was cancelled that had shown {shown_mm:.3f} mm: it does not "
            "count, see why"
            for shown_mm in each
            if check.limit_mm < shown_mm <= most_mm
        )
        if said:
            found[name] = check.model_copy(update={"warnings": (*check.warnings, *said)})
    return found


def _with_alike(checks: Mapping[str, Check], alike: Mapping[str, str]) -> dict[str, Check]:
    """Checks whose typed readings are another inspection's."""
    found: dict[str, Check] = {}
    for name, other in alike.items():
        check = checks.get(name)
        if isinstance(check, (SurfaceCheck, ThicknessCheck)):
            said = (
                f"what was typed is to the last digit what inspection {other} has: see that it was read anew"
            )
            found[name] = check.model_copy(update={"warnings": (*check.warnings, said)})
    return found


def _turn(name: str, attempts: Sequence[Attempt], method: Method, on: date | None, look: Look) -> Check:
    sweeps = [_of(Sweep, attempt, name) for attempt in attempts]
    return judge_surface(cast(Surface, name), sweeps, method, on=on, look=look)


# All judges are called alike.
def _places(name: str, attempts: Sequence[Attempt], method: Method, on: date | None, _: Look) -> Check:
    return judge_thickness([_of(Thickness, attempt, name) for attempt in attempts], method, on=on)


def _items(name: str, attempts: Sequence[Attempt], method: Method, _: date | None, __: Look) -> Check:
    passes = [_of(Observed, attempt, name) for attempt in attempts]
    return judge_observed(passes, method.observed.get(cast(ObservedName, name)))


Judge = Callable[[str, Sequence[Attempt], Method, date | None, Look], Check]
JUDGES: dict[Takes, Judge] = {"turn": _turn, "places": _places, "items": _items}
"""How each manner of taking is judged."""


A = TypeVar("A", Sweep, Thickness, Observed)


def _of(kind: type[A], attempt: Attempt, name: str) -> A:
    if not isinstance(attempt, kind) or (isinstance(attempt, Sweep) and attempt.surface != name):
        raise ValueError(f"{name}: an attempt of another kind, {type(attempt).__name__}")
    return attempt


def _day(opened: str) -> date:
    return datetime.fromisoformat(opened).astimezone(UTC).date()


def _next_due(inspection: Inspection, method: Method, on: date) -> NextDue:
    engine = inspection.header.engine
    return next_due(method.intervals, inspected=on, distance_km=engine.distance_km, hours_h=engine.hours_h)
