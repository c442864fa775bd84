"""A micrometer's key pressed more often than there are places, or that reached nobody: which reading is of
which cannot be told."""

from __future__ import annotations

from collections.abc import Sequence

from contract.units import NM_PER_MM
from contract.words import count_of
from grading.evidence import Thickness


def press_faults(attempts: Sequence[Thickness], slack_steps: float) -> list[str]:
    """Why the readings do not count: pressed twice at one place, every one after it stands at the wrong one,
    and that of the last at none. Within what the others span it changes no spread. slack_steps: of the
    display, by which a place that is read twice may differ."""
    faults = []
    for attempt in attempts:
        values = [reading.value_nm for reading in attempt.readings]
        slack_nm = slack_steps * attempt.gauge.resolution_mm * NM_PER_MM
        out = [nm for nm in attempt.beyond_nm if not min(values) - slack_nm <= nm <= max(values) + slack_nm]
        if out:
            faults.append(
                f"the key was pressed once more than there are places, and {out[0] / NM_PER_MM:.3f} mm is "
                "of none: a place was read twice; read every place again"
            )
    return faults


def lost_faults(attempts: Sequence[Thickness]) -> list[str]:
    """Why the readings do not count: where one of them was lost, those after it may stand a place too early,
    and the place that ends the set was read twice instead of it."""
    lost = sum(attempt.lost for attempt in attempts)
    if not lost:
        return []
    return [
        f"{count_of(lost, 'reading')} of {attempts[-1].gauge.id} {'was' if lost == 1 else 'were'} lost on "
        "the line, and those after may stand at the wrong places: check its cable, and read every place again"
    ]
