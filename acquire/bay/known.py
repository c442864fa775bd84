"""What the register says of what an inspection is opened with: a copy, as the bay works without it too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from difflib import get_close_matches

from config.method import Method
from contract import commands
from contract.header import DamperPart, EnginePart, Header
from contract.kinds import named
from contract.serials import bare
from contract.terms import Construction, Family
from contract.wire import rfc3339
from grading.programme.suitability import unsuitable


@dataclass(frozen=True, slots=True)
class Known:
    """As the register was when it was last read; of what it does not hold nothing is known.

    ratings_kw: by the engine's serial. dampers: family and construction by serial. gauges_due: until when the
    calibration of a gauge holds, gauges_mpe_mm: its maximum permissible error, by serial. is_read: whether it
    was read at all; where it was not, nothing speaks for what is not known.
    """

    ratings_kw: Mapping[str, float | None] = field(default_factory=dict)
    dampers: Mapping[str, tuple[Family, Construction | None]] = field(default_factory=dict)
    gauges_due: Mapping[str, date] = field(default_factory=dict)
    gauges_mpe_mm: Mapping[str, float] = field(default_factory=dict)
    is_read: bool = True

    def calibrated_until(self, serial: str | None) -> date | None:
        """Of a gauge by its serial, whatever its capitals and spaces; None where that is not known."""
        due = (due for one, due in self.gauges_due.items() if serial and bare(one) == bare(serial))
        return min(due, default=None)

    def mpe_mm(self, serial: str | None, stated: float) -> float:
        """Of a gauge the larger of what is stated where it is used, and what the register has of it."""
        kept = (mpe for one, mpe in self.gauges_mpe_mm.items() if serial and bare(one) == bare(serial))
        return max((stated, *kept))


UNREAD = Known(is_read=False)
REGISTER_FIRST = "leave it out, or mend the register first where it is wrong"
"""What to do where what is told is looser."""


def engine_of(command: commands.Open, known: Known) -> EnginePart:
    """The engine as opened; its rating as told, else as the register has it."""
    told = command.rating_kw
    return EnginePart(
        serial=command.engine,
        rating_kw=known.ratings_kw.get(command.engine) if told is None else float(told),
        distance_km=None if command.distance_km is None else float(command.distance_km),
        hours_h=None if command.hours_h is None else float(command.hours_h),
    )


def damper_of(command: commands.Open, known: Known) -> DamperPart:
    """The damper as opened; its kind as told, else as the register has it."""
    family, construction = known.dampers.get(command.damper, (None, None))
    return DamperPart(
        serial=command.damper,
        family=command.family or family,
        construction=command.construction or construction,
    )


def looser_said(engine: EnginePart, told: DamperPart, known: Known, method: Method) -> str | None:
    """Why an inspection is not opened, or ended, with a kind of damper, or a rating, that is told against the
    register: a looser limit would count, or it would suit where it does not. None: neither would."""
    rating_kw = engine.rating_kw
    family, construction = known.dampers.get(told.serial, (None, None))
    kept = told.model_copy(
        update={"family": family or told.family, "construction": construction or told.construction}
    )
    kept_kw = known.ratings_kw.get(engine.serial) or rating_kw
    by_told, by_kept = (method.of_damper(one.family, one.edge) for one in (told, kept))
    for check in named("turn", "places"):
        loose, strict = by_told.limit_mm(check), by_kept.limit_mm(check)
        if loose is not None and strict is not None and loose > strict:
            says, not_ = (" ".join(filter(None, (one.construction, one.family))) for one in (kept, told))
            return (
                f"the register says {says} of damper {told.serial}, not {not_}, and its {check} may have "
                f"{strict:g} mm, not {loose:g}: {REGISTER_FIRST}"
            )
    as_told, as_kept = (
        unsuitable(method.suitability, family=one.family, construction=one.edge, rating_kw=kw)
        for one, kw in ((told, rating_kw), (kept, kept_kw))
    )
    if as_kept is None or as_kept.outcome != "bad" or as_told is not None:
        return None
    return f"by the register {as_kept.reason}; what is told says otherwise: {REGISTER_FIRST}"


def misspelt_said(engine: str | None, damper: str | None, known: Known) -> str | None:
    """Why a serial is not taken that the register has otherwise written: what is due, and which limits count,
    goes by serials as they stand. None: neither is such a one, or is not told."""
    for what, serial, all_of in (("engine", engine, known.ratings_kw), ("damper", damper, known.dampers)):
        if serial is None or serial in all_of:
            continue
        kept = next((one for one in all_of if bare(one) == bare(serial)), None)
        if kept is not None:
            return (
                f"the register has {what} {kept}, and {serial!r} differs by capitals or spaces alone: give "
                "it as it stands there"
            )
    return None


def doubts_of(command: commands.Open, known: Known) -> list[str]:
    """What is told of an opening that the register does not bear out: a slip of a serial, or another damper
    than the one that is meant."""
    found = []
    if not known.is_read:
        found.append(
            "the register has not been read yet, so rating, kind of damper and calibration dates are only as "
            "told: state family, construction and rating_kw, or abandon this and open another in a moment"
        )
    found += unknown_said(command.engine, command.damper, known)
    family, construction = known.dampers.get(command.damper, (None, None))
    for told, kept in ((command.family, family), (command.construction, construction)):
        if told is not None and kept is not None and told != kept:
            found.append(
                f"the register says {kept} of damper {command.damper}, not {told}: check its serial and "
                "its edge"
            )
    return found


def unknown_said(engine: str | None, damper: str | None, known: Known) -> list[str]:
    """What is told of serials, where they are given, that the register has not, once it has any."""
    found = []
    for what, serial, all_of in (("engine", engine, known.ratings_kw), ("damper", damper, known.dampers)):
        if serial is not None and all_of and serial not in all_of:
            near = get_close_matches(serial, list(all_of), 2)
            meant = f"; is {' or '.join(near)} meant?" if near else ""
            found.append(f"the register has no {what} {serial}{meant}")
    return found


def clock_doubted(now: datetime, before: Header, name: str) -> list[str]:
    """What is told of a wall clock that stands before an inspection that was opened already. name: its id."""
    if now >= datetime.fromisoformat(before.opened):
        return []
    return [
        f"by this machine's clock it is {rfc3339(now)[:16]}Z, and inspection {name} was opened at "
        f"{before.opened[:16]}Z: set the clock; what is due, and a gauge's calibration, go by it"
    ]
