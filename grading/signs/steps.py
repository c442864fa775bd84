"""By which steps the readings really move, where a display shows coarser ones than stated of its gauge.

A person who rounds a dial to its numbered marks, or a gauge switched to a coarser display, gives readings
that are whole multiples of a larger step. Taken for exact to the stated one they hide up to that larger one.
"""

from __future__ import annotations

from dataclasses import replace
from math import log

import numpy as np
from numpy.typing import NDArray

from config.signs import Coarser
from contract.gauge import GaugeFacts
from contract.terms import TYPED
from contract.units import NM_PER_MM
from grading.evidence import Sweep


def as_shown(sweep: Sweep, asked: Coarser) -> Sweep:
    """The sweep with the step by which its readings move as its gauge's, where that is the larger."""
    if not np.isfinite(sweep.value_mm).all():
        return sweep
    value_nm = np.rint(sweep.value_mm * NM_PER_MM).astype(np.int64)
    step_mm = coarser_step_mm(value_nm, sweep.gauge.resolution_mm, asked)
    return sweep if step_mm is None else replace(sweep, gauge=replace(sweep.gauge, resolution_mm=step_mm))


def coarser_warnings(stated: GaugeFacts, shown: GaugeFacts) -> list[str]:
    """What to look at where the readings moved in coarser steps than stated."""
    if shown.resolution_mm == stated.resolution_mm:
        return []
    of_whom = "what is read by eye" if stated.id == TYPED else stated.id
    return [
        f"the readings move in steps of {shown.resolution_mm:g} mm and count as such, where "
        f"{stated.resolution_mm:g} mm is stated of {of_whom}: check its display, and read all that it shows"
    ]


def coarser_step_mm(value_nm: NDArray[np.int64], stated_mm: float, asked: Coarser) -> float | None:
    """The largest step of which all changes from reading to reading, shape (n,), are whole numbers; None
    where it is the stated one, or may be: each change is a multiple of k steps by a chance of one in k."""
    changes = np.abs(np.diff(value_nm))
    changes = changes[changes > 0]
    if stated_mm <= 0 or np.unique(value_nm).size < asked.levels or not changes.size:
        return None
    step_mm = int(np.gcd.reduce(changes)) / NM_PER_MM
    times = step_mm / stated_mm
    told = times >= asked.times and changes.size * log(times) > -log(asked.chance)
    return step_mm if told else None
