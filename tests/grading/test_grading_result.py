from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from contract.document import DOCUMENT_MAX_BYTES, as_data, decode, encode
from contract.item import Item
from contract.result import Checks, HarmonicPart, Result, SurfaceCheck
from grading.assess import assess
from grading.evidence import Observed
from tests.grading.samples import EXAMPLE, everything_fit, inspection

ROLLED = {"serial": "GQ-D-0815", "construction": "rolled"}


@pytest.fixture(scope="module")
def result() -> Result:
    return assess(inspection(everything_fit(), damper=ROLLED), EXAMPLE)


def test_the_document_has_what_other_programs_may_rely_on(result: Result) -> None:
    document = json.loads(encode(result))
    assert document["schema"] == "ringtrue/result/1"
    assert {"inspection", "revision", "state", "site", "bay", "opened", "closed", "verdict"} < set(document)
    assert {"reasons", "next_due", "software", "readings_sha256"} < set(document)
    assert document["damper"] == {"serial": "GQ-D-0815", "construction": "rolled"}
    assert document["method"] == {"id": "example", "version": "1", "sha256": EXAMPLE.sha256()}
    surface = {
        "outcome", "limit_mm", "tir_mm", "true_tir_mm", "u_expanded_mm", "coverage", "p_over", "harmonics",
        "eccentricity_mm", "high_spot_deg", "residual_rms_mm", "covered_deg", "largest_gap_deg",
        "closure_mm", "readings", "budget", "warnings", "gauge",
    }  # fmt: skip
    assert surface <= set(document["checks"]["rim"])
    assert surface | {"tilt_mrad", "end_float_steps"} <= set(document["checks"]["face"])
    assert {"order", "amplitude_mm", "phase_deg"} == set(document["checks"]["rim"]["harmonics"][0])
    assert {"source", "u_mm"} == set(document["checks"]["rim"]["budget"][0])
    assert {"id", "calibration_due"} <= set(document["checks"]["rim"]["gauge"])
    thickness = {
        "outcome",
        "limit_mm",
        "spread_mm",
        "u_expanded_mm",
        "p_over",
        "stations",
        "taper_mm",
        "wedge_mm",
    }
    assert thickness <= set(document["checks"]["thickness"])
    assert {"station_deg", "outer_mm", "inner_mm"} <= set(document["checks"]["thickness"]["stations"][0])
    looked = {"item": "dents", "seen": "good", "text": "No dents or tool marks in the casing"}
    assert looked in document["checks"]["visual"]["items"]


@pytest.mark.slow
def test_the_same_result_is_the_same_bytes_and_survives_the_way_there_and_back(result: Result) -> None:
    document = encode(result)
    assert encode(decode(document)) == document
    assert (
        encode(
            assess(
                inspection(everything_fit(), damper=ROLLED),
                EXAMPLE,
            )
        )
        == document
    )


def test_a_reader_ignores_what_it_does_not_know(result: Result) -> None:
    document = json.loads(encode(result))
    document["mood"] = "fine"
    document["checks"]["rim"]["colour"] = "black"
    assert encode(decode(json.dumps(document).encode())) == encode(result)


def surface(**figures: object) -> SurfaceCheck:
    return SurfaceCheck.model_validate({"outcome": "within", "reason": "r", "limit_mm": 0.28, **figures})


def test_lengths_are_whole_nanometres_and_angles_have_four_decimals() -> None:
    data = as_data(
        surface(tir_mm=0.27 - 0.08, closure_mm=-1e-9, covered_deg=365.123456, p_over=0.000123456789)
    )
    assert data["tir_mm"] == 0.19
    assert str(data["closure_mm"]) == "0.0"
    assert data["covered_deg"] == 365.1235
    assert data["p_over"] == 0.000123457


@pytest.mark.parametrize("order", [1, 2, 3, 7])
def test_a_phase_rounded_up_to_its_period_starts_again(order: int) -> None:
    part = HarmonicPart(order=order, amplitude_mm=0.1, phase_deg=360.0 / order - 1e-9)
    data = as_data(surface(harmonics=(part,), high_spot_deg=359.99999))
    assert data["harmonics"][0]["phase_deg"] == 0.0 or data["harmonics"][0]["phase_deg"] < 360.0 / order
    assert data["high_spot_deg"] == 0.0


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_no_figure_is_ever_no_number(value: float) -> None:
    with pytest.raises(ValidationError):
        surface(true_tir_mm=value)


def test_a_figure_that_does_not_exist_is_left_out() -> None:
    data = as_data(surface())
    assert set(data) == {"outcome", "reason", "limit_mm", "warnings"}


@pytest.mark.slow
@given(
    notes=st.lists(st.text(max_size=500), max_size=50),
    warnings=st.lists(st.text(min_size=500, max_size=2000), max_size=40),
)
def test_the_document_is_never_over_its_limit(notes: list[str], warnings: list[str]) -> None:
    items = tuple(Item(f"item-{i}", "bad", note) for i, note in enumerate(notes))
    graded = assess(inspection({"visual": (Observed(items),)}), EXAMPLE)
    rim = surface(
        warnings=tuple(warnings),
        harmonics=tuple(HarmonicPart(order=k, amplitude_mm=0.123456, phase_deg=0.1) for k in range(1, 400)),
    )
    checks = Checks.model_validate({**graded.checks.by_name(), "rim": rim})
    document = encode(graded.model_copy(update={"checks": checks}))
    assert len(document) <= DOCUMENT_MAX_BYTES
    read = decode(document)
    assert read.verdict == graded.verdict
    assert read.checks.rim is not None
    assert read.checks.rim.limit_mm == 0.28


@pytest.mark.slow
def test_the_longest_allowed_names_fit_and_longer_ones_are_refused() -> None:
    longest = {
        "site": "ä" * 100,
        "bay": "ä" * 100,
        "engine": {"serial": "ä" * 100},
        "damper": {"serial": "ä" * 100},
    }
    assert len(encode(assess(inspection(everything_fit(), **longest), EXAMPLE))) <= DOCUMENT_MAX_BYTES
    with pytest.raises(ValueError, match="at most 20000"):
        encode(assess(inspection({}, engine={"serial": "x" * 20_000}), EXAMPLE))


def test_half_a_surrogate_pair_in_a_note_loses_no_result() -> None:
    noted = Observed((Item("leak", "bad", "\ud83d"),))
    assert b"found bad: leak (?)" in encode(assess(inspection({"visual": (noted,)}), EXAMPLE))
