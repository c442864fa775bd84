"""What holds `keep` against the virtual damper finds one that is over."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from acquire.journal.reader import JournalReader, StoredResult
from simulators.casing import Casing
from simulators.damper import Damper
from tests.virtual.invariants import never_keep_over
from tests.virtual.plan import Kind, Plan, plan_of
from tests.virtual.running import Files, run

UNTROUBLED: dict[str, Any] = {
    "spells": (), "kills": {}, "away": (), "refused": (), "full": (), "records_away": (), "records_wiped": (),
    "steps": (), "lossy": 0.0, "doubled": 0.0, "late": 0.0, "meddles": False, "slow_s": 0.001,
    "full_method": False, "surfaces": ("rim",), "quiet": True,
}  # fmt: skip
SOUND, THIN = Damper(eccentricity_mm=0.05), Casing(wedge_mm=0.02)
# Of those graded in full the first at which the technician finds all good by eye.
SEED = 8


def untroubled(kind: Kind, damper: Damper = SOUND, casing: Casing = THIN) -> Plan:
    return replace(plan_of(SEED), **UNTROUBLED, kind=kind, damper=damper, casing=casing)


def kept(plan: Plan, folder: Path) -> tuple[str, list[StoredResult]]:
    outcome = run(SEED, Files(folder), folder, plan)
    assert outcome.wrong == ()
    reader = JournalReader(folder / "journal.db")
    try:
        return outcome.verdict, reader.results()
    finally:
        reader.close()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "over"),
    [
        ("bench", {"casing": Casing(wedge_mm=0.17)}),
        ("swept", {"damper": replace(SOUND, eccentricity_mm=0.2)}),
    ],
)
def test_a_keep_is_held_against_the_virtual_damper(kind: Kind, over: dict[str, Any], tmp_path: Path) -> None:
    plan, method = untroubled(kind), Files(tmp_path).of(untroubled(kind)).method
    verdict, results = kept(plan, tmp_path)
    assert verdict == "keep"
    assert list(never_keep_over(plan, method, results)) == []
    # The same results of another damper would be the fault that must never be.
    found = list(never_keep_over(replace(plan, **over), method, results))
    assert found
    assert {one[:6] for one in found} == {"keep, "}
    assert kept(replace(plan, **over), tmp_path)[0] == "replace"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("eccentricity_mm", "asks", "verdict"),
    [(0.03, False, "keep"), (0.05, True, "measure-again"), (0.3, True, "replace")],
)
def test_which_stop_was_at_a_mark_is_asked_where_it_is_not_certain(
    eccentricity_mm: float, asks: bool, verdict: str, tmp_path: Path
) -> None:
    """Only the start and the end of the turn are pressed; someone answers who knows when the crank stood."""
    found, results = kept(untroubled("dwelled", replace(SOUND, eccentricity_mm=eccentricity_mm)), tmp_path)
    rims = [json.loads(result.document)["checks"]["rim"] for result in results]
    asked = [rim for rim in rims if "asks" in rim]
    assert bool(asked) == asks
    assert {rim["outcome"] for rim in asked} <= {"invalid"}
    assert found == verdict
