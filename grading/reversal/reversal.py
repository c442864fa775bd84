"""Two sweeps of one surface, the damper re-indexed between them: whose run-out it is, and what to do."""

from __future__ import annotations

from dataclasses import dataclass

from config.method import Method
from contract.result import SurfaceCheck
from contract.terms import Surface
from grading.evidence import Sweep
from grading.reversal.separation import Part, Separated, separate
from grading.reversal.waves import Waves, unfit, waves_of

SEAT_U_MM = 0.005
"""How well a damper that is taken off and refitted comes back to one place, standard uncertainty of each
component: our own choice, no source."""

MEND = (
    "clean and mend the mounting (flange, pilot, bolts), refit, and measure again before condemning "
    "the damper"
)
"""What comes first where the mounting runs out."""


@dataclass(frozen=True, slots=True)
class Reversed:
    """checks: how each sweep is judged by itself. faults: why either says nothing, None where it does; parts
    then is None. reason: whose run-out it is, with the figures; advice: what to do."""

    checks: tuple[SurfaceCheck, SurfaceCheck]
    faults: tuple[str | None, str | None]
    parts: Separated | None
    reason: str
    advice: str
    warnings: tuple[str, ...] = ()


def reverse(
    first: Sweep, second: Sweep, method: Method, step_deg: float, *, seat_u_mm: float = SEAT_U_MM
) -> Reversed:
    """Both sweeps judged, and where both are fit, damper and mounting told apart. step_deg, seat_u_mm: as
    `separation.separate` takes them."""
    one, two = waves_of(first, method), waves_of(second, method)
    if not (isinstance(one, Waves) and isinstance(two, Waves)):
        checks = tuple(each.check if isinstance(each, Waves) else each for each in (one, two))
        faults = tuple(unfit(check) for check in checks)
        return Reversed(
            (checks[0], checks[1]),
            (faults[0], faults[1]),
            None,
            "both sweeps must be sound to tell damper and mounting apart",
            "take the one named again, as it was mounted then",
        )
    parts = separate(one, two, step_deg, seat_u_mm=seat_u_mm)
    limit_mm = method.surface(first.surface).limit_mm
    return Reversed(
        (one.check, two.check),
        (None, None),
        parts,
        _reason(parts, step_deg, first.surface),
        _advice(parts, limit_mm),
        _warnings(parts, step_deg),
    )


def _mm(part: Part) -> str:
    return f"{part.amplitude_mm:.3f} mm ± {part.u_expanded_mm:.3f} mm"


def _reason(parts: Separated, step_deg: float, surface: Surface) -> str:
    off = {"rim": "off the axis", "face": "out of square"}[surface]
    damper, mounting = _mm(parts.damper), _mm(parts.mounting)
    if not parts.step.agrees:
        return (
            f"nothing can be said: the damper's higher waves did not turn by {step_deg:g} degrees between "
            "the sweeps, so that was not the step"
        )
    return {
        "damper": f"it is the damper's own: {damper} {off}, its mounting {mounting}",
        "mounting": f"it is the mounting's: {mounting} {off}, the damper's own {damper}",
        "both": f"it is both alike: the damper's own {damper} {off}, its mounting {mounting}",
        "neither": f"neither is told to be {off}: damper {damper}, mounting {mounting}",
        "unclear": f"the readings do not tell: damper {damper}, mounting {mounting} {off}",
    }[parts.whose]


def _advice(parts: Separated, limit_mm: float) -> str:
    if not parts.step.agrees:
        return "find out which step was made and which way, or make it again and take the second sweep anew"
    own, u = parts.own_tir_mm, parts.own_tir_u_expanded_mm
    alone = f"on a true mounting this damper would read {own:.3f} mm ± {u:.3f} mm"
    if own - u > limit_mm:
        alone = f"{alone}, over the limit of {limit_mm:g} mm: no mounting makes it good"
        first = "clean its seat and bore of dirt and burrs and measure once more before condemning it"
        return f"{alone}; {first if parts.whose == 'damper' else MEND}"
    within = own + u <= limit_mm
    near = f"within the limit of {limit_mm:g} mm" if within else f"too near to call against {limit_mm:g} mm"
    alone = f"{alone}, {near}"
    if parts.whose in ("mounting", "both"):
        return f"{MEND}; {alone}"
    if parts.whose == "unclear" or not within:
        return f"{alone}; repeat both sweeps, best at a step of 180 degrees and with a finer gauge"
    return alone


def _warnings(parts: Separated, step_deg: float) -> tuple[str, ...]:
    step = parts.step
    if step.stood and not step.agrees:
        return (
            "the higher waves stand where they stood: as if no step had been made, or as if angles had been "
            "counted from marks on the damper, which turn with it",
        )
    if not step.agrees and step.others_deg:
        steps = " or ".join(f"{other:g}" for other in step.others_deg)
        return (f"the higher waves agree with a step of about {steps} degrees",)
    if not step.agrees:
        return (
            "the higher waves agree with no step at all: is it the same damper, read at the same place, and "
            "were angles counted from the engine?",
        )
    either_way = step_deg % 360.0 == 180.0
    if not step.tells:
        other = "" if either_way else ", and counted the wrong way round both parts would be wrong"
        return (
            "the surface has no waves by which the step could be checked: had it not been made, all would "
            f"seem to be the mounting's{other}",
        )
    if step.others_deg and not either_way:
        steps = " or ".join(f"{other:g}" for other in step.others_deg)
        return (
            f"the higher waves have turned with the step, but fit one of about {steps} degrees as well: with "
            f"another step than {step_deg:g} both parts are wrong",
        )
    if not step.tells_direction and not either_way:
        return (
            "the higher waves have turned with the step, but do not tell which way: counted the wrong way "
            "round, both parts are wrong",
        )
    return ()
