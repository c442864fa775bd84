"""Which `keep` does not stand, and why: one rule for all that tells of it.

Its damper was judged as one of another family than the register has; or it was condemned before, or to be
measured again, by a check that this `keep` did not make.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC
from typing import Any

import structlog
from pydantic import AwareDatetime, BaseModel, ConfigDict, ValidationError

from contract.serials import bare
from contract.terms import Decision, State, Verdict
from grading.programme.order import places_of
from grading.programme.record import Inspected
from records.order import Order
from records.register.merging import Rows

AMISS = ("over", "bad", "unclear", "invalid")
SETTLED = ("within", "good")


class _Engine(BaseModel):
    model_config = ConfigDict(extra="ignore")
    serial: str
    distance_km: float | None = None
    hours_h: float | None = None


class _Damper(BaseModel):
    model_config = ConfigDict(extra="ignore")
    serial: str
    family: str | None = None


class _Result(BaseModel):
    """What is needed of a result document, whatever version wrote the rest of it."""

    model_config = ConfigDict(extra="ignore")
    inspection: str
    opened: AwareDatetime
    state: State
    verdict: Verdict
    decision: Decision | None = None
    closed: str | None = None
    engine: _Engine
    damper: _Damper
    checks: Any = None


@dataclass(frozen=True, slots=True)
class Judged:
    """An inspection on record: of which engine, as what family its damper was judged, and the outcomes of its
    checks."""

    engine: str
    inspected: Inspected
    family: str | None
    outcomes: Mapping[str, str]


def judged_of(documents: Iterable[bytes], order: Order) -> list[Judged]:
    """The same of result documents. One that cannot be read is told in the log."""
    places = places_of(order.lines)
    found = []
    for document in documents:
        try:
            result = _Result.model_validate_json(document)
        except ValidationError as error:
            structlog.get_logger().warning("record-not-understood", error=str(error.errors()[0]["msg"]))
            continue
        inspected = Inspected(
            id=result.inspection,
            opened=result.opened,
            day=result.opened.astimezone(UTC).date(),
            damper=result.damper.serial,
            state=result.state,
            verdict=result.verdict,
            distance_km=result.engine.distance_km,
            hours_h=result.engine.hours_h,
            decision=result.decision,
            place=places.get(result.inspection),
            contested=order.contradicted.get(result.inspection),
            was_closed=result.closed is not None,
        )
        found.append(Judged(result.engine.serial, inspected, result.damper.family, _outcomes(result.checks)))
    return found


def _outcomes(checks: Any) -> dict[str, str]:
    """By check; of what is none of ours nothing."""
    if not isinstance(checks, dict):
        return {}
    return {name: str(one.get("outcome")) for name, one in checks.items() if isinstance(one, dict)}


def uncounted(judged: Iterable[Judged], dampers: Rows) -> dict[str, str]:
    """By the id of each `keep` that does not stand, why. judged: all inspections of the dampers that are
    asked about; dampers: the register's.

    A `keep` by the limits of another family says nothing, as they differ tenfold. A crack that was found on
    the bench is none the less there for a run-out that is within, nor is a run-out for a thickness. A
    signer's own decision stands for what was amiss in the same inspection. Of a contested one the same holds
    of what it found amiss: it is looked at again, and settles nothing itself. Serials that differ by capitals
    or spaces alone are one damper's.
    """
    found: dict[str, str] = {}
    of_damper: dict[str, list[Judged]] = defaultdict(list)
    families = {bare(str(row["damper"])): row["family"] for row in dampers.values()}
    for one in judged:
        serial = bare(one.inspected.damper)
        other = _of_another_family(one.inspected, one.family, families.get(serial))
        if other is not None:
            found[one.inspected.id] = other
        elif one.inspected.is_found:
            of_damper[serial].append(one)
    for those in of_damper.values():
        found |= _unanswered(those)
    return found


def _of_another_family(one: Inspected, judged: str | None, family: object) -> str | None:
    """family: the register's."""
    if not one.is_done or one.ended != "keep" or judged is None or family in (None, judged):
        return None
    return (
        f"inspection {one.id} of {one.day} does not count: it judged damper {one.damper} as {judged}, and "
        f"the register says {family}: mend the register, or correct the inspection, giving its damper anew"
    )


def _unanswered(those: Iterable[Judged]) -> dict[str, str]:
    """Of one damper."""
    found: dict[str, str] = {}
    left: dict[str, Inspected] = {}
    for judged in sorted(those, key=lambda judged: judged.inspected.order):
        one = judged.inspected
        if one.ended in ("replace", "measure-again"):
            left |= {check: one for check, outcome in judged.outcomes.items() if outcome in AMISS}
        if one.ended != "keep" or one.contested is not None:
            continue
        for check, outcome in judged.outcomes.items():
            if outcome in SETTLED or one.decision is not None:
                left.pop(check, None)
        if left:
            last = list(left.values())[-1]
            checks = ", ".join(check for check, by in left.items() if by is last)
            found[one.id] = (
                f"inspection {one.id} of {one.day} does not count: inspection {last.id} ended in "
                f"{last.ended} by its {checks}, which this did not make again"
            )
    return found
