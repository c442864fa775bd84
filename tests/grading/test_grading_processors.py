"""One inspection has one result, whichever processor's arithmetic it is graded by."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.surface.features import first_of_highest

# Days on which two dents explain the readings equally well, or surfaces of no form are drawn.
DAYS = (
    ("swollen arc", 1),
    ("typed, one value off", 1),
    ("typed, a sign lost", 3),
    ("two turns told to be one", 0),
)
GRADED = f"""
import json
from tests.grading.adverse.study import SEED, grade
found = [grade(SEED, *day) for day in {DAYS!r}]
print(json.dumps([(g.outcome, g.estimate_mm, g.u_mm) for g in found]))
"""


@pytest.mark.slow
def test_another_processors_rounding_changes_no_figure() -> None:
    """The linear algebra of an older processor, which its library has aboard (OPENBLAS_CORETYPE), rounds its
    sums in another order."""
    runs = [
        subprocess.Popen([sys.executable, "-c", GRADED], env=os.environ | core, stdout=subprocess.PIPE)
        for core in ({}, {"OPENBLAS_CORETYPE": "Nehalem"})
    ]
    mine, older = (json.loads(run.communicate()[0]) for run in runs)
    assert len(mine) == len(DAYS)
    for one, other in zip(mine, older, strict=True):
        assert one[0] == other[0]
        assert one[1:] == pytest.approx(other[1:], abs=1e-8)


@given(st.lists(st.integers(0, 3), min_size=1, max_size=20), st.integers(0, 10_000))
def test_rounding_does_not_choose_between_what_is_alike(levels: list[int], seed: int) -> None:
    exact = np.array(levels, dtype=np.float64)
    off = np.random.default_rng(seed).uniform(-4e-10, 4e-10, exact.size)
    assert first_of_highest(exact + off) == int(np.argmax(exact))
