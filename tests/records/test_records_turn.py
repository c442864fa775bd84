"""Which sweep is drawn of a surface, and how one is drawn of a result alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from contract.gauge import GaugeFacts
from contract.lengths import UNITS
from contract.result import Result
from grading.evidence import Inspection, Sweep
from records.pictures.turn import NOT_ZEROED, Drawn, drawn_surfaces, picture
from records.report.content import read_result
from records.report.drawings import drawings
from tests.records.reported import RIM, a_document

ANGLES = np.arange(0.0, 366.0, 3.0)


def result(**rim: Any) -> Result:
    return read_result(a_document(checks={"rim": {**RIM, **rim}}), "document")


def evidence(of: Result, *sizes_mm: float) -> Inspection:
    sweeps = tuple(
        Sweep(
            "rim", ANGLES, size / 2 * np.cos(np.radians(ANGLES)), 0.1 * np.ones_like(ANGLES),
            ANGLES / 10,
            GaugeFacts("indicator-1", 0.001, 0.004),
        )
        for size in sizes_mm
    )  # fmt: skip
    return Inspection(of.inspection, of.revision, of.state, of, attempts={"rim": sweeps})


def only(of: Result, seen: Inspection | None) -> Drawn:
    (drawn,) = drawn_surfaces(of, seen)
    return drawn


def height(drawn: Drawn, angle_deg: int) -> float:
    return drawn.panel.value_mm[drawn.panel.angle_deg.index(float(angle_deg))]


def test_without_readings_the_harmonics_are_drawn() -> None:
    """Two harmonics by hand: 0.09 cos(p - 41.2) + 0.004 cos 2(p - 12)."""
    drawn = only(result(), None)
    assert not drawn.of_readings
    assert max(drawn.panel.value_mm) == pytest.approx(0.09, abs=0.005)
    assert height(drawn, 41) == pytest.approx(0.09 + 0.004 * np.cos(np.radians(58.0)), abs=1e-5)
    assert height(drawn, 0) == pytest.approx(height(drawn, 360))


def test_a_dent_that_the_result_tells_is_in_it() -> None:
    dent = {"angle_deg": 359.0, "width_deg": 20.0, "height_mm": -0.05}
    plain, dented = only(result(), None), only(result(features=[dent]), None)
    assert height(dented, 359) - height(plain, 359) == pytest.approx(-0.05)
    assert height(dented, 4) - height(plain, 4) == pytest.approx(-0.025)
    assert height(dented, 10) == height(plain, 10)


def test_what_was_not_judged_is_not_made_up() -> None:
    assert list(drawn_surfaces(result(outcome="invalid"), None)) == []
    assert list(drawn_surfaces(result(harmonics=None), None)) == []
    assert list(drawn_surfaces(result(limit_mm=0.0), None)) == []


@pytest.mark.parametrize(
    ("attempts", "size_mm"),
    [(None, 0.3), ([(1, False), (2, True), (3, False)], 0.2), ([(1, False), (2, False), (3, False)], 0.3)],
)
def test_the_latest_sweep_that_counts_is_drawn(
    attempts: list[tuple[int, bool]] | None, size_mm: float
) -> None:
    parts = [{"number": number, "counted": counted} for number, counted in attempts or ()]
    of = result(attempts=parts or None)
    drawn = only(of, evidence(of, 0.1, 0.2, 0.3))
    assert drawn.of_readings
    assert np.ptp(drawn.panel.value_mm) == pytest.approx(size_mm, abs=0.001)


@pytest.mark.parametrize(("zero", "said"), [("encoder", True), ("timing-mark", False), (None, False)])
def test_a_picture_whose_nought_is_only_the_encoders_says_so(zero: str | None, said: bool) -> None:
    of = result(angle_zero=zero)
    svg = picture(None, of)
    assert svg is not None
    assert ("0° of the encoder" in svg) is said
    assert ("0° timing mark" in svg) is not said
    assert ("The timing mark was not told" in svg) is said
    section = drawings(of, None, UNITS["mm"])
    assert section is not None
    assert (NOT_ZEROED in str(section.blocks)) is said
