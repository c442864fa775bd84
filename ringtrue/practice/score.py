"""The mark, by rules that anyone can check by hand: docs/practice.md has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

# Points for the verdict, for figures that hold the truth, for items recorded as they are, for procedure.
VERDICT, FIGURES, ITEMS, PROCEDURE = 50, 20, 20, 10
# Points that each fault of procedure takes, until none of them are left.
EACH_FAULT = 2
# Points from which an exam is passed, if the verdict is right.
PASSED_FROM = 75


@dataclass(frozen=True, slots=True)
class Mark:
    """points of 100; failed_by: why it is failed whatever the points, empty where it is not."""

    points: int
    is_passed: bool
    failed_by: str = ""


def marked(
    wanted: str, said: str, figures: float, items: float, faults: int, undone: Sequence[str] = ()
) -> Mark:
    """figures, items: the shares that are right. undone: checks that were not done."""
    points = (
        (VERDICT if said == wanted else 0)
        + int(FIGURES * figures)
        + int(ITEMS * items)
        + max(PROCEDURE - EACH_FAULT * faults, 0)
    )
    if said == "keep" and wanted == "replace":
        return Mark(0, is_passed=False, failed_by="a damper that must go was kept on its engine")
    if said == "keep" and undone:
        return Mark(points, is_passed=False, failed_by=f"it was kept without {', '.join(undone)}")
    if said == wanted:
        return Mark(points, is_passed=points >= PASSED_FROM)
    if said == "replace":
        return Mark(points, is_passed=False, failed_by="a damper that may stay was condemned")
    return Mark(points, is_passed=False, failed_by="the inspection came to no decision")
