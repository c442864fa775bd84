"""A correction after signing never makes a keep, and tells loudly where it takes one back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.known import UNREAD, Known
from config.method import Method
from config.programme import DamperLimits, RatingRange, Suitability
from contract.document import encode
from contract.result import Result
from grading.assess import assess
from tests.acquire.workbench import Workbench

KNOWN = Known(
    ratings_kw={"GQ-E-2207": 250.0, "GQ-E-2208": 350.0},
    dampers={"GQ-D-0815": ("viscous", "rolled"), "GQ-D-0816": ("viscous", "welded")},
)
SAID = {"inspection": "truck-14", "name": "R. Example", "why": "misread the plate"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Workbench]:
    """Of thickness alone; rolled edges suit up to 300 kW, welded ones may spread by less."""
    bench = Workbench(tmp_path)
    method = bench.files.method
    method = method.model_copy(
        update={
            "required": method.required.model_copy(update={"bench": ("thickness",)}),
            "suitability": Suitability(construction={"rolled": RatingRange(most_kw=300.0)}),
            "damper": (DamperLimits(construction="welded", thickness_mm=0.05),),
            "thickness": method.thickness.model_copy(update={"zero_mm": None}),
        }
    )
    bench.journal.close()
    bench.files = replace(bench.files, method=method)
    bench.start()
    bench.bay.known = KNOWN
    yield bench
    bench.close()


def signed(bench: Workbench, *, decision: str | None = None, spread_mm: float = 0.1, **said: Any) -> Result:
    bench.open("truck-14", scope="bench", hours_h=11840, **said)
    bench.do("begin", check="thickness", gauge="typed", resolution_mm=0.001, mpe_mm=0.002)
    for at in range(16):
        place: dict[str, Any] = {"station_deg": at % 8 // 2 * 90, "radius": ("outer", "inner")[at % 2]}
        value = 25.0 + spread_mm if at % 8 == 2 else 25.0 + at / 10_000
        if not bench.bay.is_sweeping and at == 8:
            bench.do("begin", check="thickness", gauge="typed", resolution_mm=0.001, mpe_mm=0.002)
        bench.do("record", check="thickness", **place, value_mm=round(value, 4))
    bench.do("close", inspection="truck-14")
    bench.flush()
    own = {} if decision is None else {"decision": decision, "remark": "seen by the engineer"}
    bench.do("sign", inspection="truck-14", name="R. Example", sure=True, **own)
    return result(bench)


def result(bench: Workbench) -> Result:
    state = bench.state("truck-14")
    return assess(to_evidence(state), Method.model_validate(state.opened.method))


@pytest.mark.slow
@pytest.mark.parametrize(
    "said", [{"engine": "GQ-E-2208"}, {"damper": "GQ-D-0816"}, {"construction": "welded"}]
)
def test_a_keep_that_a_correction_takes_back_is_told(bench: Workbench, said: dict[str, str]) -> None:
    before = signed(bench)
    assert (before.verdict, before.next_due is not None) == ("keep", True)
    reply = bench.do("correct", **SAID, **said)
    after = result(bench)
    assert (after.verdict, after.next_due) == ("replace", None)
    assert reply["verdict"] == "replace"
    assert reply["warnings"] == ["truck-14 was signed as keep: by its correction it is replace; act on that"]
    (one,) = after.corrections or ()
    assert [(c.was, c.now) for c in one.what if c.key == "verdict"] == [("keep", "replace")]
    assert after.engine.rating_kw == (350 if "engine" in said else 250)
    assert after.damper.construction == ("rolled" if "engine" in said else "welded")


@pytest.mark.slow
def test_a_damper_given_anew_is_of_the_kind_that_the_register_has_now(bench: Workbench) -> None:
    assert signed(bench).verdict == "keep"
    bench.bay.known = replace(KNOWN, dampers={"GQ-D-0815": ("viscous", "welded")})
    assert bench.do("correct", **SAID, damper="GQ-D-0815")["verdict"] == "replace"


@pytest.mark.slow
def test_a_decision_against_one_verdict_is_none_against_a_worse_one(bench: Workbench) -> None:
    """Kept by decision while it was near the limit; a stricter limit counts, and it is over that."""
    before = signed(bench, decision="keep", spread_mm=0.249)
    assert (before.verdict, before.decision) == ("measure-again", "keep")
    bench.do("correct", **SAID, work_order="W-8")
    assert result(bench).decision == "keep"
    reply = bench.do("correct", **SAID, damper="GQ-D-0816")
    assert reply["warnings"][0].endswith(
        "; the decision keep was taken against measure-again and counts no more"
    )
    after = result(bench)
    assert (after.verdict, after.decision, after.remark) == ("replace", None, "seen by the engineer")
    assert ("decision", "keep", None) in [(c.key, c.was, c.now) for c in (after.corrections or ())[-1].what]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("said", "right"),
    [
        ({"engine": "GQ-E-2208"}, {"engine": "GQ-E-2207"}),
        ({"damper": "GQ-D-0816"}, {"damper": "GQ-D-0815"}),
        ({"construction": "welded"}, {"construction": "rolled"}),
    ],
)
def test_none_makes_a_keep(bench: Workbench, said: dict[str, Any], right: dict[str, str]) -> None:
    assert signed(bench, **said).verdict == "replace"
    assert bench.refused("correct", **SAID, **right) == "out-of-order"
    bench.flush()
    message = bench.send("correct", **SAID, **right)["error"]["message"]
    assert "was signed as replace" in message
    assert "inspect again" in message


@pytest.mark.slow
@pytest.mark.parametrize(
    "said", [{"damper": "GQ-D-0816", "construction": "rolled"}, {"construction": "rolled"}]
)
def test_none_is_of_a_kind_that_the_register_has_otherwise(bench: Workbench, said: dict[str, str]) -> None:
    """Kept as rolled; what is a welded damper by the register would stay one that is kept."""
    damper = "GQ-D-0815" if "damper" in said else "GQ-D-0816"
    assert signed(bench, damper=damper, spread_mm=0.02 if damper == "GQ-D-0816" else 0.1).verdict == "keep"
    message = bench.send("correct", **SAID, **said)["error"]["message"]
    assert message.startswith("correct: the register says welded viscous of damper GQ-D-0816, not rolled")
    bench.do("correct", **SAID, work_order="W-8")


@pytest.mark.slow
@pytest.mark.parametrize("at", ["sign", "correct"])
def test_rules_that_changed_meanwhile_make_no_keep(bench: Workbench, at: str) -> None:
    """What was condemned under one version would be kept by the next one's rules: nobody has signed that."""
    bench.open("truck-14", scope="bench", hours_h=11840)
    bench.do("begin", check="thickness", gauge="typed", resolution_mm=0.001, mpe_mm=0.002)
    for n in range(8):
        place: dict[str, Any] = {"station_deg": n // 2 * 90, "radius": ("outer", "inner")[n % 2]}
        bench.do("record", check="thickness", **place, value_mm=25.0 + n / 1000)
    bench.do("close", inspection="truck-14")
    bench.flush()
    now = result(bench)
    assert now.verdict == "keep"
    then = encode(now.model_copy(update={"verdict": "replace"}))
    bench.journal.put_result("truck-14", now.revision, then, "2026-03-02T07:00:00.000Z")
    bench.flush()
    if at == "correct":
        bench.do("sign", inspection="truck-14", name="R. Example", sure=True)
        bench.flush()
    bench.software = "ringtrue next"
    bench.restart()
    bench.bay.known = KNOWN
    said = (
        SAID | {"work_order": "W-8"} if at == "correct" else {"inspection": "truck-14", "name": "R. Example"}
    )
    error = bench.send(at, **said, **({} if at == "correct" else {"sure": True}))["error"]
    assert "would be keep" in error["message"]
    assert error["message"].endswith("inspect again")
    assert result(bench).state == ("signed" if at == "correct" else "closed")


@pytest.mark.slow
def test_of_another_engine_that_the_register_does_not_rate_nothing_is_known(bench: Workbench) -> None:
    signed(bench)
    assert bench.do("correct", **SAID, engine="GQ-E-2300")["verdict"] == "incomplete"
    assert result(bench).engine.rating_kw is None


@pytest.mark.slow
def test_a_serial_that_the_register_lacks_is_told_as_where_one_is_opened(bench: Workbench) -> None:
    """A second slip, or the first of its kind: nothing would be due by it."""
    signed(bench, rating_kw=280)
    near = "the register has no engine GQ-E-2209; is GQ-E-2208 or GQ-E-2207 meant?"
    assert bench.do("correct", **SAID, engine="GQ-E-2209")["warnings"] == [near]
    assert "warnings" not in bench.do("correct", **SAID, engine="GQ-E-2207")
    verdict, unknown = bench.do("correct", **SAID, engine="GQ-E-2208", damper="9")["warnings"]
    assert verdict.startswith("truck-14 was signed as keep")
    assert unknown == "the register has no damper 9"


@pytest.mark.slow
@pytest.mark.parametrize("said", [{"engine": "GQ-E-2208"}, {"damper": "GQ-D-0816"}])
def test_another_serial_waits_for_the_register(bench: Workbench, said: dict[str, str]) -> None:
    signed(bench)
    bench.bay.known = UNREAD
    assert bench.refused("correct", **SAID, **said) == "out-of-order"
    bench.do("correct", **SAID, work_order="W-8")


@pytest.mark.slow
def test_what_was_told_of_it_stays(bench: Workbench) -> None:
    signed(bench, rating_kw=280)
    assert "verdict" not in bench.do("correct", **SAID, engine="GQ-E-2300", hours_h=11850)
    after = result(bench)
    assert (after.engine.rating_kw, after.verdict) == (280, "keep")
    assert after.next_due is not None
    assert after.next_due.hours_h == 11850 + (bench.files.method.intervals.hours_h or 0)


@pytest.mark.slow
def test_it_waits_for_a_sweep(bench: Workbench) -> None:
    signed(bench)
    bench.open("truck-15", scope="bench")
    bench.do("begin", check="thickness", gauge="typed")
    assert (
        "first end the thickness sweep"
        in bench.send("correct", **SAID, damper="GQ-D-0816")["error"]["message"]
    )
    bench.do("correct", **SAID, work_order="W-8")
