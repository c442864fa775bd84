"""The bay with marks instead of an encoder, with a micrometer, and with a pencil."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import InspectionState, fold
from acquire.errors import FoldError
from acquire.journal.events import Mark
from acquire.journal.file import Batch, write_batch
from acquire.journal.sealer import Sealer
from contract.result import ThicknessCheck
from grading.assess import judge
from grading.evidence import Sweep, Thickness
from tests.acquire.workbench import INDICATOR, KEYED, Workbench

Make = Callable[..., Workbench]


def sweep_of(state: InspectionState, check: str = "rim", attempt: int = -1) -> Sweep:
    found = to_evidence(state).attempts[check][attempt]
    assert isinstance(found, Sweep)
    return found


def test_marks_follow_each_other_and_turn_after_turn(make: Make) -> None:
    bench = make("marks")
    bench.open()
    reply = bench.do("begin", check="rim", gauge=INDICATOR)
    assert reply["next_mark_deg"] == 0
    angles = []
    for _ in range(6):
        if not bench.bay.is_sweeping:
            break
        bench.wait(1)
        reply = bench.do("mark")
        angles.append((reply["angle_deg"], reply["next_mark_deg"]))
        for n in range(10):
            bench.wait(0.1)
            bench.read(INDICATOR, 10_000 * n)
    assert angles == [(0, 120), (120, 240), (240, 360), (360, 480)]
    sweep = sweep_of(bench.state())
    assert sweep.angle_deg[-1] == 360  # the reading at the mark that closes the turn
    assert sweep.angle_u_deg.max() > 30
    # The next sweep goes on from there.
    assert bench.do("begin", check="face", gauge=INDICATOR)["next_mark_deg"] == 480


def test_a_mark_given_an_angle_is_reached_the_shorter_way(make: Make) -> None:
    bench = make("marks")
    bench.open()
    given = [240, 0, 120, 0, 0, 180, 0, 720, 90.5, -30]
    reached = [bench.do("mark", angle_deg=deg)["angle_deg"] for deg in given]
    assert reached == [240, 360, 480, 360, 360, 540, 720, 720, 810.5, -30]
    bench.wait(1)
    assert bench.do("mark")["angle_deg"] == 0


def test_after_a_restart_the_next_mark_needs_its_angle(make: Make) -> None:
    bench = make("marks")
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("mark")
    bench.restart()
    assert bench.refused("mark") == "angle-needed"
    bench.do("mark", angle_deg=120)
    bench.wait(1)
    assert bench.do("mark")["angle_deg"] == 240
    marks = [e.angle_udeg for e in bench.journal_events() if isinstance(e, Mark)]
    assert marks == [0, 120_000_000, 240_000_000]


def test_thickness_by_a_gauge_with_a_key(bench: Workbench) -> None:
    bench.open(scope="bench")
    assert (
        bench.do("begin", check="thickness", gauge=KEYED)["places"] == 10
    )  # with the zero, before and after
    live = bench.bay.live()
    assert live is not None
    assert live.next_radius == "zero"
    bench.read(KEYED, 1_000)
    for n in range(8):
        live = bench.bay.live()
        assert live is not None
        assert (live.next_station_deg, live.next_radius) == (n // 2 * 90, ("outer", "inner")[n % 2])
        assert [(p.station_deg, p.radius, p.value_mm, p.readings) for p in live.places] == [
            (m // 2 * 90, ("outer", "inner")[m % 2], 38 + m * 1e-6, 1) for m in range(n)
        ]
        bench.read(KEYED, 38_000_000 + n)
        if n == 2:
            bench.restart()
    live = bench.bay.live()
    assert live is not None
    assert (live.next_radius, live.min_mm, live.max_deviation_mm) == ("zero", 38, 0.000007)
    bench.read(KEYED, 3_000)
    assert not bench.bay.is_sweeping
    (found,) = to_evidence(bench.state()).attempts["thickness"]
    assert isinstance(found, Thickness)
    assert (found.zero_before_nm, found.zero_after_nm) == (1_000, 3_000)
    assert [r.value_nm for r in found.readings] == [38_000_000 + n for n in range(8)]
    assert [(r.station_deg, r.radius) for r in found.readings[:3]] == [
        (0, "outer"),
        (0, "inner"),
        (90, "outer"),
    ]
    # A place read again by eye joins it.
    bench.do("record", check="thickness", station_deg=90, radius="outer", value_mm=38.5)
    (found,) = to_evidence(bench.state()).attempts["thickness"]
    assert isinstance(found, Thickness)
    assert found.readings[-1].value_nm == 38_500_000
    assert found.gauge.id == KEYED
    assert [gauge.id for gauge in found.beside] == ["typed"]
    assert bench.state().revision == 3


def test_a_zero_that_is_passed_over_or_read_between_is_no_place_of_the_casing(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge=KEYED)
    for n in range(8):  # at once the casing, and closed once in the middle
        bench.read(KEYED, 38_000_000 + n)
        if n == 3:
            bench.read(KEYED, 2_000)
    bench.read(KEYED, 38_000_000)  # once more, where the zero is waited for
    assert bench.bay.is_sweeping
    bench.read(KEYED, 1_000)
    assert not bench.bay.is_sweeping
    (found,) = to_evidence(bench.state()).attempts["thickness"]
    assert isinstance(found, Thickness)
    assert [r.value_nm for r in found.readings] == [38_000_000 + n for n in range(8)]
    assert (found.zero_before_nm, found.zero_after_nm) == (None, 1_000)
    assert (found.zero_between_nm, found.beyond_nm) == ((2_000,), (38_000_000,))


def thickness_found(bench: Workbench) -> ThicknessCheck:
    check = judge("thickness", to_evidence(bench.state()).attempts["thickness"], bench.files.method)
    assert isinstance(check, ThicknessCheck)
    return check


def test_a_key_pressed_twice_at_a_place_loses_none_unheard(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge=KEYED)
    bench.read(KEYED, 0)
    for value in (38_000_000, 38_000_000, *[38_010_000] * 6, 37_500_000):  # the last place is a thin one
        bench.read(KEYED, value)
    bench.read(KEYED, 0)
    check = thickness_found(bench)
    assert check.outcome == "invalid"
    assert "pressed once more than there are places, and 37.500 mm is of none" in check.reason


def test_a_press_that_was_lost_on_the_line_leaves_no_place_unread(bench: Workbench) -> None:
    """The thick place's reading never came; the last place was read twice, and the spread was small."""
    bench.open(scope="bench")
    for lost in (1, 0):
        bench.do("begin", check="thickness", gauge=KEYED)
        bench.read(KEYED, 0)
        for n in range(8):
            bench.read(KEYED, 38_000_000 + 1_000 * n, skip=lost if n == 2 else 0)
        bench.read(KEYED, 0)
        check = thickness_found(bench)
        if lost:
            assert check.outcome == "invalid"
            assert check.reason.startswith(f"1 reading of {KEYED} was lost on the line, and those after may")
    assert check.outcome == "within"


@pytest.mark.parametrize("again", [True, False])
def test_a_zero_that_moved_is_not_forgotten_for_a_reading_after_it(bench: Workbench, again: bool) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge=KEYED)
    for value in (0, *[38_000_000] * 4, *([] if again else [60_000, 0]), *[38_000_000] * 4):
        bench.read(KEYED, value)
    bench.read(KEYED, 60_000 if again else 0)
    if again:
        bench.do("record", check="thickness", station_deg=90, radius="outer", value_mm=38)
    check = thickness_found(bench)
    assert check.outcome == "invalid"
    assert "zero moved by +0.060 mm" in check.reason or "zero moved by -0.060 mm" in check.reason


def test_a_zero_typed_anew_is_no_thickness(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge="typed")
    bench.do("record", check="thickness", radius="zero", value_mm=0.1)
    bench.do("record", check="thickness", station_deg=0, radius="outer", value_mm=38)
    bench.do("record", check="thickness", radius="zero", value_mm=0.001, replace=True)
    live = bench.bay.live()
    assert live is not None
    assert (live.min_mm, live.max_mm, live.readings) == (38, 38, 1)


def test_thickness_typed_within_a_sweep_fills_its_place(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge=KEYED)
    bench.do("record", check="thickness", station_deg=0, radius="inner", value_mm=1)
    bench.read(KEYED, 2_000_000)
    bench.read(KEYED, 3_000_000)
    bench.do("end")
    (found,) = to_evidence(bench.state()).attempts["thickness"]
    assert isinstance(found, Thickness)
    places = [(r.station_deg, r.radius, r.value_nm) for r in found.readings]
    assert places == [(0, "inner", 1_000_000), (0, "outer", 2_000_000), (90, "outer", 3_000_000)]


def test_a_micrometer_and_a_pencil(bench: Workbench) -> None:
    bench.open(scope="bench")
    for n, value in enumerate((38.27, 38.08)):
        bench.do("record", check="thickness", station_deg=90 * n, radius="outer", value_mm=value)
    (found,) = to_evidence(bench.state()).attempts["thickness"]
    assert isinstance(found, Thickness)
    assert found.readings[0].value_nm - found.readings[1].value_nm == 190_000
    assert (found.gauge.id, found.gauge.resolution_mm) == ("typed", 0.01)


@pytest.mark.parametrize("source", ["encoder", "marks"])
def test_a_dial_and_a_pencil(make: Make, source: str) -> None:
    bench = make(source)
    bench.open()
    bench.do("begin", check="face", gauge="typed", mpe_mm=0.02, radius_mm=140.5)
    assert bench.refused("record", check="rim", angle_deg=0, value_mm=0) == "out-of-order"
    for angle in range(0, 361, 45):
        bench.do("record", angle_deg=angle, value_mm=0.01 * angle / 45)
    live = bench.bay.live()
    assert live is not None
    assert (live.angle_deg, live.max_mm, live.covered_deg) == (0, 0.08, 360)
    bench.do("end")
    sweep = sweep_of(bench.state(), "face")
    assert list(sweep.angle_deg) == list(range(0, 361, 45))
    assert list(sweep.value_mm) == [n / 100 for n in range(9)]
    assert (sweep.gauge.resolution_mm, sweep.gauge.mpe_mm, sweep.radius_mm) == (0.01, 0.02, 140.5)
    assert set(sweep.angle_u_deg) == {2.0}


def test_resending_answers_how_many(bench: Workbench) -> None:
    for n in range(3):
        bench.journal.put_result(f"truck-{n}", 1, b"{}", f"2026-03-02T0{n}:00:00.000Z")
    bench.flush()
    reply = bench.do("resend", since="2026-03-02T02:00:00+01:00")
    assert reply["results"] == 2
    bench.flush()
    topics = [row.topic for row in bench.journal.pending("mqtt")]
    root = "ringtrue/1/greywacke/bay-2/inspection"
    assert topics == [f"{root}/truck-1/result", f"{root}/truck-2/result"]
    assert len(bench.journal.pending("records")) == 2


def test_resending_is_answered_only_once_it_is_on_the_disk_with_its_answer(
    bench: Workbench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.journal.put_result("truck-1", 1, b"{}", "2026-03-02T06:00:00.000Z")
    bench.flush()
    batches: list[Batch] = []

    def write(db: sqlite3.Connection, batch: Batch, sealer: Sealer | None) -> None:
        batches.append(batch)
        write_batch(db, batch, sealer)

    monkeypatch.setattr("acquire.journal.writer.write_batch", write)
    said = json.dumps({"id": "again", "operator": "R. Example", "since": "2026-03-02T00:00:00Z"}).encode()
    reply = bench.bay.command("resend", said)
    assert reply.ok
    bench.flush()
    (batch,) = [batch for batch in batches if batch.replies or batch.resends]
    assert [request for request, _ in batch.replies] == ["again"]
    assert [resend.destination for resend in batch.resends] == ["mqtt", "records"]
    assert 0 < reply.seq <= batch.seq


def test_a_fold_refuses_what_no_inspection_can_be(bench: Workbench) -> None:
    name = bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("end")
    bench.do("close", inspection=name)
    opened, begun, ended, closed = bench.journal_events()
    with pytest.raises(FoldError, match="no such inspection"):
        fold([])
    for events in (
        [begun],
        [opened, ended],
        [opened, begun, begun],
        [opened, begun, closed],
        [opened, closed, begun],
        [opened, closed, closed],
        [opened, opened],
    ):
        with pytest.raises(FoldError, match="cannot"):
            fold(events)
