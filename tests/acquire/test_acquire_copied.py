"""Typed readings that are another inspection's, one by one, are remarked on in the result."""

from __future__ import annotations

import math

import pytest

from acquire.bay.evidence import to_evidence
from acquire.journal.events import Closed
from contract.result import SurfaceCheck
from grading.assess import assess
from tests.acquire.workbench import Workbench

SAID = "what was typed is to the last digit what inspection truck-14 has: see that it was read anew"


def inspected(bench: Workbench, name: str, *, stops: int = 24, off_mm: float = 0.0) -> SurfaceCheck:
    bench.open(name)
    bench.do("begin", check="rim", gauge="typed")
    for n in range(stops + 1):
        value = 0.05 * math.cos(math.tau * n / stops) + (off_mm if n == 5 else 0.0)
        bench.do("record", angle_deg=round(360 * n / stops, 3), value_mm=round(0.3 + value, 2))
    bench.do("end")
    bench.do("close", inspection=name)
    bench.flush()
    found = assess(to_evidence(bench.state(name)), bench.files.method).checks.rim
    assert found is not None
    return found


@pytest.mark.slow
def test_what_was_copied_off_the_last_sheet_is_remarked_on(bench: Workbench) -> None:
    assert SAID not in inspected(bench, "truck-14").warnings
    assert SAID not in inspected(bench, "truck-15", off_mm=0.01).warnings
    assert SAID in inspected(bench, "truck-16").warnings
    (closed,) = (one for one in bench.journal_events() if isinstance(one, Closed))
    assert closed.alike == (("rim", "truck-14"),)


@pytest.mark.slow
def test_of_few_stops_it_may_be_chance(bench: Workbench) -> None:
    inspected(bench, "truck-14", stops=12)
    assert SAID not in inspected(bench, "truck-15", stops=12).warnings
