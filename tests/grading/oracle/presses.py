"""Whether a mark was pressed twice, asked of one who is told when they were pressed: the bay's own rule."""

from __future__ import annotations

import numpy as np

from tests.grading.oracle.told import Told
from tests.grading.samples import EXAMPLE


def asked(one: Told) -> bool:
    """Whether the bay would have refused a press with a question."""
    return bool(np.min(np.diff(one.day.presses_s)) < EXAMPLE.marks.least_s)
