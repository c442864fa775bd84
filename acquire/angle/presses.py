"""Tags by marks that were pressed. Pure."""

from __future__ import annotations

import numpy as np

from acquire.angle.between import Known, by_time
from acquire.angle.covered import MARK_REACH_NS
from acquire.angle.spell import Spell
from acquire.angle.tags import Tags
from acquire.journal.events import Mark
from contract.units import UDEG_PER_DEG


def presses_of(spell: Spell) -> Known:
    """The marks of a spell, in order of time."""
    marks = sorted((e.time_ns, e.seq, e.angle_udeg) for e in spell.events if isinstance(e, Mark))
    table = np.array(marks, dtype=np.int64).reshape(-1, 3)
    runs = [slice(0, len(marks))] if marks else []
    return Known(table[:, 0], table[:, 2] / UDEG_PER_DEG, np.zeros_like(table[:, 0]), runs)


def tags_by_presses(u_deg: float, u_time_ns: float, spell: Spell) -> Tags:
    """Between the marks, by time."""
    return by_time(spell.gauge, presses_of(spell), MARK_REACH_NS, u_deg, u_time_ns)
