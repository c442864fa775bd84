"""A signed inspection is put right by a new revision that says who, why and what; what was measured stays."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from acquire.bay.evidence import to_evidence
from config.method import Method
from contract.document import decode, encode
from contract.lengths import UNITS
from contract.result import Result
from display.shown import result_lines
from grading.assess import assess
from tests.acquire.workbench import Workbench

SAID = {"inspection": "truck-14", "name": "R. Example", "why": "misread the plate"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Workbench]:
    bench = Workbench(tmp_path)
    bench.open("truck-14", scope="bench", hours_h=11840)
    bench.do("close", inspection="truck-14")
    bench.do("sign", inspection="truck-14", name="R. Example", sure=True)
    yield bench
    bench.close()


def result(bench: Workbench) -> Result:
    """As the daemon grades it, from the journal, and through the document."""
    state = bench.state("truck-14")
    return decode(encode(assess(to_evidence(state), Method.model_validate(state.opened.method))))


def test_what_was_written_down_wrong_is_right_and_both_stand_in_the_result(bench: Workbench) -> None:
    before = result(bench)
    changed = len(bench.changed)
    said = bench.do("correct", **SAID, engine="GQ-E-2208", hours_h=11850.5)
    assert said["changed"] == ["engine.serial", "engine.hours_h"]
    assert len(bench.changed) == changed + 1
    after = result(bench)
    assert (after.revision, after.state) == (before.revision + 1, "signed")
    assert (after.engine.serial, after.engine.hours_h) == ("GQ-E-2208", 11850.5)
    (one,) = after.corrections or ()
    assert (one.by, one.why) == ("R. Example", "misread the plate")
    assert [(c.key, c.was, c.now) for c in one.what] == [
        ("engine.serial", before.engine.serial, "GQ-E-2208"), ("engine.hours_h", 11840.0, 11850.5),
    ]  # fmt: skip
    assert before.corrections is None
    changing = {"revision", "engine", "corrections", "next_due"}
    assert after.model_dump(exclude=changing) == before.model_dump(exclude=changing)
    (line,) = [line for line in result_lines(after, UNITS["mm"]) if "corrected by" in line]
    assert line.endswith("(misread the plate): engine.serial "
                         f"{before.engine.serial} → GQ-E-2208, engine.hours_h 11840 → 11850.5")  # fmt: skip


def test_corrections_add_up_and_outlive_a_restart(bench: Workbench) -> None:
    bench.flush()
    bench.do("correct", **SAID, damper="GQ-D-0816", work_order="W-7", construction="welded")
    bench.restart(now_ns=5)
    bench.do("correct", **SAID, remark="the plate was under paint")
    found = result(bench).corrections or ()
    assert [[change.key for change in one.what] for one in found] == [
        ["damper.serial", "damper.construction", "work_order"], [],
    ]  # fmt: skip
    assert [one.remark for one in found] == [None, "the plate was under paint"]
    assert result(bench).damper.serial == "GQ-D-0816"
    assert [one.when for one in found] == sorted(one.when for one in found)


def test_while_another_is_measured_it_is_in_nobodys_way(bench: Workbench) -> None:
    bench.flush()
    bench.open("truck-15", scope="bench")
    bench.do("begin", check="thickness", gauge="typed")
    bench.do("correct", **SAID, engine="GQ-E-2208")
    assert result(bench).engine.serial == "GQ-E-2208"
    bench.do("record", check="thickness", station_deg=0, radius="outer", value_mm=24.0)


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"inspection": "another"}, "no-such-inspection"),
        ({"why": ""}, "malformed"),
        ({}, "malformed"),
        ({"hours_h": 11840}, "malformed"),
        ({"scope": "on-engine"}, "malformed"),
        ({"hours_h": -1}, "malformed"),
    ],
)
def test_what_changes_nothing_or_too_much_is_refused(
    said: dict[str, Any], code: str, bench: Workbench
) -> None:
    assert bench.refused("correct", **(SAID | said)) == code


def test_only_what_is_signed_is_corrected(bench: Workbench) -> None:
    bench.open("truck-15", scope="bench")
    said = SAID | {"inspection": "truck-15", "engine": "another"}
    assert bench.refused("correct", **said) == "out-of-order"
    bench.do("close", inspection="truck-15")
    assert "sign it first" in bench.send("correct", **said)["error"]["message"]
    bench.do("abandon", inspection="truck-15")
    assert bench.refused("correct", **said) == "out-of-order"


def test_the_pencil_slips_ten_times_at_most(bench: Workbench) -> None:
    for number in range(10):
        bench.do("correct", **SAID, remark=f"{number}" + "x" * 499)
    assert "10 times already" in bench.send("correct", **SAID, remark="more")["error"]["message"]
    assert len(result(bench).corrections or ()) == 10
