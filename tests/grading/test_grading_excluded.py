"""What no reading can show is said where the verdict is read."""

from __future__ import annotations

import numpy as np
import pytest

from grading.evidence import F64
from grading.kinds.surfaces import judge_surface
from tests.grading.samples import EXAMPLE
from tests.grading.swept import COARSE, FINE, eccentric, judged, swept

TWELVE: F64 = np.arange(0.0, 361.0, 30.0)
EIGHT: F64 = np.arange(0.0, 361.0, 45.0)


@pytest.mark.parametrize(
    "what",
    [
        "a part of a turn for a whole one, where its ends meet",
        "inches for millimetres",
        "a dial turned past its end number where few stops or many waves hide it",
    ],
)
def test_of_what_is_typed_it_is_said(what: str) -> None:
    check = judged(swept(eccentric(TWELVE, 0.15), TWELVE, COARSE))
    assert check.outcome == "within"
    assert any(what in said for said in check.excluded or ())
    turn = np.linspace(0.0, 366.0, 400)
    assert not any(what in said for said in judged(swept(eccentric(turn, 0.15), turn, FINE)).excluded or ())


def test_of_stops_45_degrees_apart_it_is_said_what_so_few_do_not_show() -> None:
    few, more = (judged(swept(eccentric(at, 0.12), at, COARSE)).excluded or () for at in (EIGHT, TWELVE))
    assert any(said.startswith("minus signs left off, or a dial at the end of its travel") for said in few)
    assert not any(said.startswith("minus signs left off") for said in more)


def test_inches_typed_for_millimetres_are_no_within_where_their_steps_are_finer() -> None:
    """0.76 mm is 0.030 in, which no factor of the limit asks about; typed as 0.0005 in steps of a dial."""
    inches = np.round(eccentric(TWELVE, 0.76) / 25.4 / 0.0005) * 0.0005
    sweep = swept(np.zeros(TWELVE.size), TWELVE, COARSE)
    typed = type(sweep)(sweep.surface, TWELVE, inches, sweep.angle_u_deg, sweep.time_s, COARSE)
    check = judge_surface("rim", [typed], EXAMPLE)
    assert check.outcome == "unclear"
    assert "as if inches were taken for millimetres (0.7" in check.reason


def test_a_small_run_out_read_to_half_steps_stays_within() -> None:
    value = np.round(eccentric(TWELVE, 0.03) / 0.005) * 0.005
    sweep = swept(np.zeros(TWELVE.size), TWELVE, COARSE)
    typed = type(sweep)(sweep.surface, TWELVE, value, sweep.angle_u_deg, sweep.time_s, COARSE)
    assert judge_surface("rim", [typed], EXAMPLE).outcome == "within"


def test_of_what_a_gauge_sends_it_is_said_that_it_may_follow_too_slowly() -> None:
    """Each reading a mean of the last ninth of a turn: a seventh of three waves is gone, unseen."""
    turn = np.linspace(0.0, 366.0, 400)
    slow = np.mean([eccentric(3 * (turn - behind), 0.3) for behind in range(40)], axis=0)
    check = judged(swept(slow, turn, FINE))
    assert check.outcome == "within"
    assert any(said.startswith("a gauge that follows more slowly") for said in check.excluded or ())
    typed = judged(swept(eccentric(TWELVE, 0.15), TWELVE, COARSE)).excluded or ()
    assert not any(said.startswith("a gauge that follows more slowly") for said in typed)
