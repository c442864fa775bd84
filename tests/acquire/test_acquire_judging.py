"""Each sweep is looked at once, and a result is to the byte what it is without a memory."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from acquire.judging import Judging
from contract.document import encode
from contract.gauge import GaugeFacts
from grading.assess import assess
from grading.evidence import AngleSlip, Delay, Inspection, StopQuestion, Sweep
from grading.kinds.byitself import fingerprint
from grading.runout.runout import Alone, look_at
from tests.grading.faces import Two, plane
from tests.grading.samples import EXAMPLE, inspection, observed, sweep

RIM, AGAIN, FACE = sweep(0.09), sweep(0.09, seed=2), Two(plane(0.1)).sweep()
SEEN = observed("visual")
VISITS: tuple[dict[str, Any], ...] = (
    {"rim": (RIM,)},
    {"rim": (RIM,), "visual": (SEEN,)},
    {"rim": (RIM,), "visual": (SEEN,), "face": (FACE,)},
    {"rim": (RIM, AGAIN), "visual": (SEEN,), "face": (FACE,)},
)


def anew(one: Sweep) -> Sweep:
    """The same, as the journal gives it once more."""
    other = None if one.opposite is None else anew(one.opposite)
    return replace(one, angle_deg=one.angle_deg.copy(), value_mm=one.value_mm.copy(), opposite=other)


def visits() -> list[Inspection]:
    """An inspection as it grows, then closed, then signed."""
    held = [
        {name: tuple(anew(a) if isinstance(a, Sweep) else a for a in some) for name, some in visit.items()}
        for visit in (*VISITS, VISITS[-1], VISITS[-1])
    ]
    states = ["open"] * len(VISITS) + ["closed", "signed"]
    return [
        inspection(visit, revision=at, state=state)
        for at, (visit, state) in enumerate(zip(held, states, strict=True))
    ]


@pytest.mark.slow
def test_each_sweep_is_looked_at_once_and_the_bytes_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    bare = [encode(assess(evidence, EXAMPLE)) for evidence in visits()]
    looked: list[Sweep] = []

    def counting(*arguments: Any, **more: Any) -> Alone:
        looked.append(arguments[0].sweep)
        return look_at(*arguments, **more)

    monkeypatch.setattr("grading.kinds.byitself.look_at", counting)
    judging = Judging()
    assert [encode(judging(evidence, EXAMPLE)) for evidence in visits()] == bare
    assert [one.gauge.id for one in looked] == ["indicator-1", "indicator-1", "indicator-2", "indicator-1"]
    judging(visits()[0], EXAMPLE)  # what was signed is forgotten
    assert len(looked) == 5


@pytest.mark.slow
def test_by_other_rules_it_is_looked_at_anew() -> None:
    judging = Judging()
    loose = EXAMPLE.model_copy(update={"rim": EXAMPLE.rim.model_copy(update={"limit_mm": 0.1})})
    judging(visits()[0], EXAMPLE)
    assert judging(visits()[0], loose) == assess(visits()[0], loose)


OTHER: dict[str, Any] = {
    "surface": "rim",
    "gauge": GaugeFacts("indicator-1", 0.001, 0.005),
    "radius_mm": 149.0,
    "lost": 1,
    "interrupted": ("away",),
    "opposite": None,
    "clock_s": 1.0,
    "float_u_mm": 0.001,
    "breaks_s": (1.0,),
    "slips": (AngleSlip(1.0, 1.0, 0.0, 1.0),),
    "delay": Delay(0.1, 0.1, 0.1, False),
    "angle_zero": "encoder",
    "angles_run_on": True,
    "stood_mm": 0.1,
    "question": StopQuestion(120.0, ((1.0, 2.0),), "which?"),
    "eye_mm": 0.01,
}


@pytest.mark.parametrize("name", [field.name for field in fields(Sweep)])
def test_whatever_of_a_sweep_differs_its_fingerprint_does(name: str) -> None:
    value, other = getattr(FACE, name), OTHER.get(name)
    if isinstance(value, np.ndarray) or name in ("low_mm", "high_mm"):
        other = np.nextafter(FACE.angle_deg if value is None else value, 1.0)
    rules = EXAMPLE.face
    changed: dict[str, Any] = {name: other}
    assert fingerprint(replace(FACE, **changed), rules) != fingerprint(FACE, rules)
    assert fingerprint(anew(FACE), rules) == fingerprint(FACE, rules)
    if name != "opposite":
        assert FACE.opposite is not None
        beside = replace(FACE.opposite, **changed)
        assert fingerprint(replace(FACE, opposite=beside), rules) != fingerprint(FACE, rules)
