"""The timing mark: the crank stands there, and angles are of it wherever the encoder was not lost since."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.journal.events import IndexPassed
from contract.units import Unit
from drivers.reading import Reading
from drivers.state import PortState
from grading.evidence import Sweep
from tests.acquire.workbench import ENCODER, INDICATOR, Workbench

DEG = 1_000_000


@pytest.fixture
def bench(tmp_path: Path) -> Workbench:
    made = Workbench(tmp_path)
    made.open()
    return made


def crank(bench: Workbench, deg: int) -> None:
    """The encoder says so now."""
    bench.wait(0.1)
    bench.read(ENCODER, deg % 360 * DEG, Unit.UDEG)


def swept(bench: Workbench, start_deg: int, check: str = "rim") -> None:
    """A whole turn from there."""
    bench.do("begin", check=check, gauge=INDICATOR)
    bench.bar(start_deg, start_deg + 370)
    assert not bench.bay.is_sweeping


def sweeps(bench: Workbench, check: str = "rim") -> list[Sweep]:
    found = to_evidence(fold(bench.journal_events())).attempts[check]
    return [sweep for sweep in found if isinstance(sweep, Sweep)]


def test_angles_of_later_sweeps_are_of_the_place_where_the_crank_was_said_to_stand(bench: Workbench) -> None:
    crank(bench, 100)
    assert bench.do("zero")["angle_deg"] == 0
    crank(bench, 130)
    swept(bench, 131)
    (sweep,) = sweeps(bench)
    assert sweep.angle_zero == "timing-mark"
    assert sweep.angle_deg[0] == pytest.approx(31, abs=0.01)
    assert sweep.value_mm[0] * 1000 == pytest.approx(1 + 0.131, abs=0.01)


def test_a_sweep_of_before_is_of_the_mark_too_where_the_encoder_was_watched_since(bench: Workbench) -> None:
    crank(bench, 0)
    swept(bench, 1)
    assert sweeps(bench)[0].angle_zero == "encoder"
    before = bench.bay.latest and fold(bench.journal_events()).revision
    crank(bench, 45)
    bench.do("zero")
    (sweep,) = sweeps(bench)
    assert (sweep.angle_zero, sweep.angle_deg[0] % 360) == ("timing-mark", pytest.approx(316, abs=0.01))
    assert fold(bench.journal_events()).revision == (before or 0) + 1  # and the result comes anew


def test_said_in_the_midst_of_a_sweep_it_holds_for_all_of_it_and_live_goes_on(bench: Workbench) -> None:
    crank(bench, 0)
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(1, 91)
    live = bench.bay.live()
    assert live is not None
    assert (live.angle_zero, live.angle_deg, live.covered_deg) == ("encoder", 90, 89)
    bench.do("zero")
    live = bench.bay.live()
    assert live is not None
    assert (live.angle_zero, live.angle_deg, live.covered_deg) == ("timing-mark", 0, 89)
    bench.bar(91, 380)
    assert not bench.bay.is_sweeping
    assert sweeps(bench)[0].angle_deg[0] == pytest.approx(-89, abs=0.01)


@pytest.mark.parametrize(("back_deg", "is_kept"), [(100, True), (101, True), (140, False), (0, False)])
def test_an_encoder_that_comes_back_elsewhere_has_lost_the_mark(
    bench: Workbench, back_deg: int, is_kept: bool
) -> None:
    crank(bench, 100)
    bench.do("zero")
    for state in (PortState.LOST, PortState.LIVE):
        bench.gauge(ENCODER, state)
    crank(bench, back_deg)
    live = bench.bay.live()
    assert live is not None
    assert any("timing mark is no longer known" in said for said in live.warnings) is not is_kept
    assert live.angle_zero == ("timing-mark" if is_kept else "encoder")
    swept(bench, back_deg + 1)
    assert sweeps(bench)[0].angle_zero == ("timing-mark" if is_kept else "encoder")
    # Said anew it is known again, and of the sweep too, as nothing was lost since.
    bench.do("zero")
    live = bench.bay.live()
    assert live is not None
    assert (live.angle_zero, live.warnings) == ("timing-mark", ())
    assert sweeps(bench)[0].angle_zero == "timing-mark"


@pytest.mark.parametrize(("back_deg", "is_kept"), [(106, True), (200, False)])
def test_it_survives_a_restart_where_the_crank_stands_as_it_was_left(
    bench: Workbench, back_deg: int, is_kept: bool
) -> None:
    crank(bench, 100)
    bench.do("zero")
    swept(bench, 101)  # to 106, where it ends by itself
    bench.restart(now_ns=5)
    crank(bench, back_deg)
    swept(bench, back_deg + 1, "face")
    (face,) = sweeps(bench, "face")
    assert face.angle_zero == ("timing-mark" if is_kept else "encoder")
    assert face.angle_deg[0] % 360 == pytest.approx(7 if is_kept else 201, abs=0.01)


def test_the_mark_holds_for_the_next_inspection(bench: Workbench) -> None:
    crank(bench, 100)
    bench.do("zero")
    bench.do("abandon", inspection=bench.bay.latest)
    bench.open("truck-15")
    live = bench.bay.live()
    assert live is not None
    assert live.angle_zero == "timing-mark"
    crank(bench, 110)
    swept(bench, 111)
    assert sweeps(bench)[0].angle_deg[0] == pytest.approx(11, abs=0.01)


def test_where_the_mark_is_known_of_some_sweeps_of_a_surface_only_none_is_turned(bench: Workbench) -> None:
    crank(bench, 0)
    swept(bench, 1)
    for state in (PortState.LOST, PortState.LIVE):
        bench.gauge(ENCODER, state)
    crank(bench, 200)
    bench.do("zero")
    swept(bench, 201)
    assert [(s.angle_zero, round(s.angle_deg[0]) % 360) for s in sweeps(bench)] == [
        ("encoder", 1), ("encoder", 201)
    ]  # fmt: skip


def test_with_marks_it_is_the_mark_at_nought(tmp_path: Path) -> None:
    bench = Workbench(tmp_path, "marks")
    bench.open()
    bench.do("mark")
    bench.wait(2)
    assert bench.do("mark")["angle_deg"] == 120
    bench.wait(2)
    said = bench.do("zero")
    assert (said["angle_deg"], said["next_mark_deg"]) == (0, 120)


def test_without_an_encoder_that_speaks_it_is_refused(bench: Workbench) -> None:
    assert bench.send("zero")["error"]["code"] == "gauge-absent"
    crank(bench, 3)
    bench.wait(6)
    assert "said nothing for some seconds" in bench.send("zero")["error"]["message"]
    bench.gauge(ENCODER, PortState.LOST)
    assert bench.send("zero")["error"]["message"].endswith("see to it and zero again")


def test_the_next_stop_is_told_once_the_mark_is(tmp_path: Path) -> None:
    made = Workbench(tmp_path, "encoder with stops")
    made.open()
    crank(made, 50)
    made.do("begin", check="rim", gauge=INDICATOR)
    made.bar(50, 60)
    assert next_stop(made) is None
    made.do("zero")
    made.bar(60, 160)
    assert next_stop(made) == 120
    made.bar(160, 179)
    assert next_stop(made) == 240  # a degree before the mark it stands there


def test_who_types_angles_is_told_of_no_stop(tmp_path: Path) -> None:
    made = Workbench(tmp_path, "encoder with stops")
    made.open()
    made.do("begin", check="rim", gauge="typed")
    for angle in (0, 15):
        made.do("record", check="rim", angle_deg=angle, value_mm=0.1)
        assert next_stop(made) is None


def next_stop(bench: Workbench) -> Any:
    live = bench.bay.live()
    assert live is not None
    return live.next_mark_deg


def test_an_index_in_a_sweep_is_journalled_and_one_that_is_off_is_told_while_it_is_barred(
    bench: Workbench,
) -> None:
    crank(bench, 0)
    bench.do("begin", check="rim", gauge=INDICATOR)
    frames = [(10, True), (90, False), (200, False), (340, True)]
    for number, (shown, index) in enumerate(frames, start=10):
        bench.wait(0.1)
        bench.bay.take_reading(
            Reading(ENCODER, number, bench.clock.now_ns, shown * DEG, Unit.UDEG, index=index)
        )
    live = bench.bay.live()
    assert live is not None
    assert "the encoder is 30 degrees off at its index; see to its coupling and its cable" in live.warnings
    bench.restart(now_ns=5)
    assert [e.gauge for e in bench.journal_events() if isinstance(e, IndexPassed)] == [ENCODER, ENCODER]
    live = bench.bay.live()
    assert live is not None
    assert any("30 degrees off at its index" in said for said in live.warnings)
