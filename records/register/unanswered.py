"""What a `keep` leaves open: checks by which its damper was condemned, or to be measured again, and that it
did not make."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from grading.programme.record import Inspected

AMISS = ("over", "bad", "unclear", "invalid")
SETTLED = ("within", "good")


def unanswered(inspections: Iterable[Inspected], outcomes: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """By the ids of those that do not count for that, why. outcomes: of the checks of each, by its id.

    A crack that was found on the bench is none the less there for a run-out that is within, nor is a run-out
    for a thickness. A signer's own decision stands for what was amiss in the same inspection.
    """
    of_damper: dict[str, list[Inspected]] = defaultdict(list)
    for one in inspections:
        if one.is_found and one.contested is None:
            of_damper[one.damper].append(one)
    found: dict[str, str] = {}
    for those in of_damper.values():
        left: dict[str, Inspected] = {}
        for one in sorted(those, key=lambda one: one.order):
            made = outcomes.get(one.id, {})
            if one.ended in ("replace", "measure-again"):
                left |= {check: one for check, outcome in made.items() if outcome in AMISS}
            if one.ended != "keep":
                continue
            for check, outcome in made.items():
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
