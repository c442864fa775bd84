"""Sweeps side by side at the core of a bay: each has its own readings, ends, and comes back by itself."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import Take
from contract.units import Unit
from drivers.state import PortState
from grading.evidence import Sweep
from tests.acquire.workbench import ENCODER, INDICATOR, SECOND, Workbench


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Workbench]:
    made = Workbench(tmp_path, second=True)
    made.open()
    yield made
    made.journal.close()


def bar(bench: Workbench, start_deg: int, until_deg: int) -> None:
    """Both indicators and the encoder read at each degree; the second reads 5 um more."""
    for angle in range(start_deg, until_deg):
        bench.wait(0.01)
        bench.read(ENCODER, angle % 360 * 1_000_000, Unit.UDEG)
        bench.read(INDICATOR, 1_000 + angle % 360)
        bench.read(SECOND, 6_000 + angle % 360)


def sweeps(bench: Workbench) -> dict[str, Sweep]:
    attempts = to_evidence(bench.state()).attempts
    found = {name: each[-1] for name, each in attempts.items()}
    return {name: each for name, each in found.items() if isinstance(each, Sweep)}


def test_each_ends_by_itself_with_readings_of_its_own(bench: Workbench) -> None:
    bench.do("begin", check="rim", gauge=INDICATOR)
    bar(bench, 0, 20)
    bench.do("begin", check="face", gauge=SECOND)
    bar(bench, 20, 300)
    live = bench.bay.live()
    assert live is not None
    (beside,) = live.beside
    assert (live.check, live.gauge, beside.check, beside.gauge) == ("rim", INDICATOR, "face", SECOND)
    assert (beside.value_mm, beside.readings, live.readings) == (0.006299, 280, 300)
    # The one that was begun later has longer to go.
    assert live.to_bar_deg == pytest.approx(365 - 279)
    bar(bench, 300, 380)
    live = bench.bay.live()
    assert live is not None
    assert (live.check, live.beside) == ("face", ())
    bar(bench, 380, 400)
    assert not bench.bay.is_sweeping
    found = sweeps(bench)
    assert [float(found[name].value_mm.min()) for name in ("rim", "face")] == [0.001, 0.006]
    assert [found[name].angle_deg.size for name in ("rim", "face")] == [366, 366]
    assert [found[name].lost for name in ("rim", "face")] == [0, 0]


def test_one_above_the_limit_is_told_to_a_display_that_shows_the_other(bench: Workbench) -> None:
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("begin", check="face", gauge=SECOND)
    bar(bench, 0, 10)
    live = bench.bay.live()
    assert live is not None
    assert live.warnings == ()
    bench.wait(0.01)
    bench.read(SECOND, 300_000)
    live = bench.bay.live()
    assert live is not None
    (said,) = live.warnings
    assert said == "face with indicator-2: run-out so far 0.294 mm, above the limit of 0.28 mm"


def test_both_come_back_after_a_restart(bench: Workbench) -> None:
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("begin", check="face", gauge=SECOND, turns=2)
    bar(bench, 0, 200)
    bench.restart()
    live = bench.bay.live()
    assert live is not None
    assert [live.check, *(beside.check for beside in live.beside)] == ["rim", "face"]
    bar(bench, 200, 600)
    live = bench.bay.live()
    assert live is not None
    assert live.check == "face"
    bench.do("end")
    assert [take.begun.check for take in bench.state().finished if isinstance(take, Take)] == ["rim", "face"]


REFUSED: tuple[tuple[tuple[str], dict[str, str]], ...] = (
    (("end",), {"check": "thickness"}),
    (("close",), {"inspection": "truck-14"}),
    (("begin",), {"check": "lifts", "gauge": "indicator-1"}),
)


def test_one_is_ended_or_dropped_by_its_check_and_all_by_none(bench: Workbench) -> None:
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("begin", check="face", gauge=SECOND)
    bar(bench, 0, 50)
    assert bench.refused("end", check="thickness") == "out-of-order"
    told = [bench.send(*name, **to)["error"]["message"] for name, to in REFUSED]
    assert ["the rim sweep and the face sweep are" in one for one in told] == [True, True, True]
    assert bench.do("cancel", check="face")["check"] == "face"
    live = bench.bay.live()
    assert live is not None
    assert (live.check, live.beside) == ("rim", ())
    bench.do("begin", check="face", gauge=SECOND)
    bar(bench, 50, 60)
    reply = bench.do("end")
    assert reply["check"] == "rim"
    assert reply["others"] == [{"check": "face", "gauge": SECOND, "readings": 10}]
    assert not bench.bay.is_sweeping
    state = bench.state()
    assert (len(state.cancelled), len(state.finished)) == (1, 2)


def test_what_cannot_run_beside_is_refused(bench: Workbench) -> None:
    bench.do("begin", check="rim", gauge=INDICATOR)
    for said in (
        {"check": "rim", "gauge": SECOND},
        {"check": "face", "gauge": INDICATOR},
        {"check": "face", "gauge": SECOND, "opposite": INDICATOR},
        {"check": "lifts", "gauge": SECOND},
        {"check": "thickness", "gauge": "typed"},
    ):
        assert bench.refused("begin", **said) == "out-of-order"
    for wrong in (
        {"check": "rim", "opposite": INDICATOR},
        {"check": "face", "opposite": SECOND},
        {"check": "face", "opposite": "typed"},
        {"check": "lifts", "turns": 2},
    ):
        assert bench.refused("begin", gauge=SECOND, **wrong) == "malformed"
    assert bench.refused("begin", check="face", gauge=SECOND, opposite="indicator-9") == "no-such-gauge"
    bench.gauge(SECOND, PortState.ABSENT)
    assert bench.refused("begin", check="face", gauge=SECOND) == "gauge-absent"


def test_a_pair_is_one_check_that_ends_once_both_have_enough(bench: Workbench) -> None:
    assert bench.do("begin", check="face", gauge=INDICATOR, opposite=SECOND)["opposite"] == SECOND
    bar(bench, 0, 100)
    bench.gauge(SECOND, PortState.SILENT)
    for angle in range(100, 110):
        bench.wait(0.01)
        bench.read(ENCODER, angle * 1_000_000, Unit.UDEG)
        bench.read(INDICATOR, 1_000 + angle)
    bench.gauge(SECOND, PortState.LIVE)
    bar(bench, 110, 366)
    assert not bench.bay.is_sweeping
    evidence = to_evidence(bench.state())
    (sweep,) = evidence.attempts["face"]
    assert isinstance(sweep, Sweep)
    assert sweep.interrupted == ()
    assert sweep.opposite is not None
    assert sweep.opposite.interrupted == ("indicator-2 was away for 0.1 s, from 99 degrees on",)
    assert sweep.clock_s == sweep.opposite.clock_s


def test_a_second_one_of_which_the_first_is_dropped_is_no_check(bench: Workbench) -> None:
    bench.do("begin", check="face", gauge=INDICATOR, opposite=SECOND)
    bar(bench, 0, 100)
    bench.do("cancel")
    assert not bench.bay.is_sweeping
    assert to_evidence(bench.state()).attempts == {}
