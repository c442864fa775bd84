"""What a turn that was cancelled had shown is told where another is within."""

from __future__ import annotations

import math

from acquire.bay.evidence import to_evidence
from contract.result import SurfaceCheck
from grading.assess import assess
from tests.acquire.workbench import Workbench


def turn(bench: Workbench, tir_mm: float, *, ends: str = "end") -> None:
    bench.do("begin", check="rim", gauge="typed")
    for angle in range(0, 361, 20):
        value = 0.3 + tir_mm / 2 * math.cos(math.radians(angle - 30))
        bench.do("record", angle_deg=angle, value_mm=round(value, 2))
    bench.do(ends)


def rim(bench: Workbench) -> SurfaceCheck:
    found = assess(to_evidence(bench.state()), bench.files.method).checks.rim
    assert found is not None
    return found


def test_a_turn_that_was_over_and_cancelled_is_told_of(bench: Workbench) -> None:
    bench.open()
    turn(bench, 0.10, ends="cancel")
    turn(bench, 0.36, ends="cancel")
    assert rim(bench).outcome == "missing"
    turn(bench, 0.10)
    check = rim(bench)
    said = [one for one in check.warnings if "cancelled" in one]
    assert check.outcome == "within"
    assert said == ["a turn was cancelled that had shown 0.360 mm: it does not count, see why"]


def test_one_that_was_set_up_is_not(bench: Workbench) -> None:
    """The plunger was lifted by the hand's breadth that an indicator has."""
    bench.open()
    turn(bench, 5.0, ends="cancel")
    turn(bench, 0.10)
    assert not [one for one in rim(bench).warnings if "cancelled" in one]


def test_a_set_of_a_casing_that_was_over_and_cancelled_is_told_of_too(bench: Workbench) -> None:
    bench.open(scope="bench")
    for spread, ends in ((0.31, "cancel"), (0.10, "")):
        bench.do("begin", check="thickness", gauge="typed", resolution_mm=0.001, mpe_mm=0.002)
        bench.do("record", check="thickness", radius="zero", value_mm=0)
        for n in range(8 if not ends else 5):
            place = {"station_deg": n // 2 * 90, "radius": ("outer", "inner")[n % 2]}
            value = 25.0 + (spread if n in (2, 3) else n / 1000)
            bench.do("record", check="thickness", **place, value_mm=round(value, 3))
        if ends:
            bench.do(ends)
    bench.do("record", check="thickness", radius="zero", value_mm=0)
    check = assess(to_evidence(bench.state()), bench.files.method).checks.thickness
    assert check is not None
    assert check.outcome == "within"
    assert check.warnings[-1] == "a set was cancelled that had shown 0.310 mm: it does not count, see why"
