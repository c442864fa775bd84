"""What came of a run that has ended."""

from __future__ import annotations

from typing import Any

from acquire.journal.events import EndReason
from acquire.runs.lifts import RunningLifts
from acquire.runs.live import mm_of, tenth_um
from acquire.runs.running import Running
from contract.units import UDEG_PER_DEG


def test_of(run: Running | None, reason: EndReason) -> RunningLifts | None:
    """The repeatability test that ended, where it was one and was not dropped."""
    return run if isinstance(run, RunningLifts) and reason != "cancelled" else None


def told(run: Running) -> tuple[str, dict[str, Any]]:
    """For the log: what ended, and its figures."""
    if isinstance(run, RunningLifts):
        found, fault = run.verdict()
        return "repeatability test ended", {
            "lifts": len(run.figures().values_nm),
            "lost": run.intake.lost,
            "sd_mm": None if found is None else tenth_um(found.sd_mm),
            "fault": fault,
        }
    now = run.figures()
    return "sweep ended", {
        "check": run.begun.check,
        "readings": now.readings,
        "lost": now.lost,
        "covered_deg": round(now.covered_udeg / UDEG_PER_DEG, 1),
        "deviation_mm": mm_of((now.max_nm or 0) - (now.min_nm or 0)),
    }
