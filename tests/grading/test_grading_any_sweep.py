"""No sweep whatever stops a grade: it is judged, or invalid with a reason, in a document that is valid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contract.document import decode, encode
from contract.gauge import GaugeFacts
from grading.assess import assess
from grading.evidence import Sweep
from tests.grading.samples import DATA, inspection, method

# So lenient that most of what is drawn has to be graded.
LENIENT = method(face={**DATA["face"], "sweep": {"max_gap_deg": 359.0, "max_closure_mm": 5000.0}})

angles = st.floats(-2000.0, 2000.0)
values = st.one_of(st.floats(-1000.0, 1000.0), st.sampled_from([0.0, 0.01, 0.02]))


@st.composite
def sweeps(draw: st.DrawFn) -> Sweep:
    n = draw(st.integers(0, 60))
    pattern = draw(st.sampled_from(["any", "turn", "back", "stands", "steps"]))
    along = np.linspace(0.0, draw(st.sampled_from([359.0, 360.0, 366.0, 1440.0])), n)
    angle = {
        "any": np.array(draw(st.lists(angles, min_size=n, max_size=n)), dtype=np.float64),
        "turn": along,
        "back": -along,
        "stands": np.full(n, 12.5),
        "steps": np.round(along / 45.0) * 45.0,
    }[pattern]
    flat = draw(st.booleans())
    value = np.full(n, draw(values)) if flat else np.array(draw(st.lists(values, min_size=n, max_size=n)))
    gauge = GaugeFacts(
        "g",
        draw(st.sampled_from([1e-6, 0.001, 0.01, 0.0127, 1.0])),
        draw(st.sampled_from([0.0, 0.004, 1.0])),
        None,
        draw(st.sampled_from([None, 0.0, 0.002])),
    )
    return Sweep(
        "face",
        angle,
        value.astype(np.float64),
        np.full(n, draw(st.sampled_from([0.0, 0.05, 20.0]))),
        np.arange(n) / draw(st.sampled_from([1.0, 50.0])),
        gauge,
        draw(st.sampled_from([None, 0.5, 150.0])),
        draw(st.integers(0, 3)),
        draw(st.sampled_from([(), ("the encoder was away for 3.0 s",)])),
    )


@pytest.mark.slow
@settings(max_examples=60)
@given(st.lists(sweeps(), min_size=1, max_size=3))
def test_any_sweep_gives_a_valid_document(taken: list[Sweep]) -> None:
    document = encode(assess(inspection({"face": tuple(taken)}, scope="on-engine"), LENIENT))
    check = decode(document).checks.face
    assert check is not None
    assert check.outcome in ("within", "over", "unclear", "invalid")
    assert check.reason
    assert (check.outcome == "invalid") == (check.true_tir_mm is None)
