"""What an encoder and the readings say of the angles: told, and beyond the method's bound no sweep."""

from __future__ import annotations

from dataclasses import replace

import pytest

from grading.evidence import AngleSlip, Delay
from grading.kinds.surfaces import judge_surface
from tests.grading.samples import EXAMPLE, method, sweep

SLIP = AngleSlip(lost_deg=-3.0, give_deg=0.4, since_deg=100.0, until_deg=460.0)
SAID = "the encoder lost 3.0 degrees, give or take 0.4, between 100 and 100 degrees, by its index"


def test_what_an_encoder_lost_is_told_with_its_place_and_size() -> None:
    check = judge_surface("rim", [replace(sweep(0.09), slips=(SLIP,))], EXAMPLE)
    assert check.outcome == "within"
    assert any(said.startswith(f"{SAID}; they are put back") for said in check.warnings)


@pytest.mark.parametrize(("most_deg", "outcome"), [(3.0, "within"), (2.9, "invalid")])
def test_beyond_the_methods_bound_the_sweep_is_none(most_deg: float, outcome: str) -> None:
    bound = method(rim={"limit_mm": 0.28, "sweep": {"max_lost_angle_deg": most_deg}})
    check = judge_surface("rim", [replace(sweep(0.09), slips=(SLIP,))], bound)
    assert check.outcome == outcome
    if outcome == "invalid":
        assert check.reason.startswith(f"{SAID}, at most 2.9 degrees may be; see to its coupling")
        assert not any(SAID in said for said in check.warnings)


@pytest.mark.parametrize(("later_s", "contradicts", "said"), [
    (0.0321, False, "come 32.1 ms later than stated, give or take 2.0 ms"),
    (-0.0321, True, "come 32.1 ms sooner than stated, give or take 2.0 ms"),
])  # fmt: skip
def test_how_late_the_readings_show_themselves_is_told(later_s: float, contradicts: bool, said: str) -> None:
    late = Delay(later_s, 0.002, 0.02, contradicts)
    (told,) = judge_surface("rim", [replace(sweep(0.09), delay=late)], EXAMPLE).warnings
    assert said in told
    assert ("see to latency_s" in told) is contradicts


def test_the_result_says_what_nought_is() -> None:
    for zero in ("timing-mark", "encoder", None):
        assert judge_surface("rim", [replace(sweep(0.09), angle_zero=zero)], EXAMPLE).angle_zero == zero
