"""What a bay says, its sentences in the unit of whoever reads them.

Converted are figures in what ringtrue says of a measured check and of what runs. What people wrote, and
the method's own words, stay as they are. So does the document: this is a copy to be shown, and no record
of anything.
"""

from __future__ import annotations

from contract.lengths import LengthUnit
from contract.live import Live
from contract.result import Check, ObservedCheck, Result, SurfaceCheck, ThicknessCheck


def result_in(result: Result, unit: LengthUnit) -> Result:
    """A result to be shown."""
    if unit.name == "mm":
        return result
    checks = result.checks.by_name()
    reasons = []
    for reason in result.reasons:
        check = checks.get(reason.partition(":")[0])
        if check is not None and not isinstance(check, ObservedCheck):
            reason = unit.sentence(reason, _figures_mm(check))
        reasons.append(reason)
    shown = {
        key: check_in(check, unit)
        for key in type(result.checks).model_fields
        if (check := getattr(result.checks, key)) is not None
    }
    told = result.checks.model_copy(update=shown)
    return result.model_copy(update={"checks": told, "reasons": tuple(reasons)})


def check_in(check: Check, unit: LengthUnit) -> Check:
    """One check to be shown."""
    if isinstance(check, ObservedCheck):
        return check
    exact = _figures_mm(check)

    def told(text: str) -> str:
        return unit.sentence(text, exact)

    update: dict[str, object] = {"reason": told(check.reason)}
    for key in ("warnings", "doubts", "excluded"):
        said = getattr(check, key, None)
        if said is not None:
            update[key] = tuple(map(told, said))
    if check.attempts is not None:
        update["attempts"] = tuple(
            one.model_copy(update={"reason": told(one.reason)}) if one.reason is not None else one
            for one in check.attempts
        )
    return check.model_copy(update=update)


def live_in(live: Live, unit: LengthUnit) -> Live:
    """What runs, to be shown."""
    if unit.name == "mm" or not live.warnings:
        return live
    return live.model_copy(update={"warnings": tuple(map(unit.sentence, live.warnings))})


def _figures_mm(check: SurfaceCheck | ThicknessCheck) -> tuple[float, ...]:
    said = (getattr(check, key) for key in type(check).model_fields if key.endswith("_mm"))
    return tuple(value for value in said if value is not None)
