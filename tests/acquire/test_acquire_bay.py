"""The bay by its commands, readings and journal: what a technician does, in and out of order."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import InspectionState, fold
from acquire.errors import FoldError
from acquire.journal.events import Sample
from config.cautions import USUAL
from contract.item import Item
from contract.live import Live
from contract.units import Unit
from drivers.state import PortState
from grading.evidence import Observed, Sweep
from tests.acquire.workbench import ENCODER, INDICATOR, KEYED, Workbench

ITEMS = [{"item": "leak", "seen": "good"}, {"item": "dents", "seen": "bad", "note": "two, at the rim"}]
Make = Callable[..., Workbench]


def sweep_of(state: InspectionState, check: str = "rim", attempt: int = -1) -> Sweep:
    found = to_evidence(state).attempts[check][attempt]
    assert isinstance(found, Sweep)
    return found


def sent(bench: Workbench) -> list[dict[str, Any]]:
    """The events in the outbox."""
    bench.flush()
    rows = bench.journal.pending("mqtt", 1000)
    return [json.loads(row.payload) for row in rows if row.topic.endswith("/event")]


def test_a_whole_inspection(bench: Workbench) -> None:
    name = bench.open(hours_h=12_000.5, distance_km=410_000, work_order="W-1")
    begun = bench.do("begin", check="rim", gauge=INDICATOR)
    assert len(begun.pop("asked")) == 16
    assert tuple(begun.pop("cautions")) == USUAL["rim"]
    assert begun == {"id": "request-2", "ok": True, "inspection": name, "check": "rim", "gauge": INDICATOR}
    bench.bar(0, 500)
    bench.do("begin", check="face", gauge=INDICATOR)
    bench.bar(10, 500)
    bench.do("record", check="visual", items=ITEMS)
    bench.wait(1.5)
    bench.do("close", inspection=name)
    bench.do("sign", inspection=name, name="R. Example", sure=True)
    found = to_evidence(bench.state())
    engine = found.header.engine
    assert (found.state, found.revision, found.signed_by) == ("signed", 6, "R. Example")
    assert (engine.hours_h, engine.distance_km, found.header.work_order) == (12_000.5, 410_000, "W-1")
    assert found.header.opened == "2026-03-02T06:00:01.000Z"
    assert found.closed == "2026-03-02T06:00:09.820Z"
    assert (found.header.site, found.header.bay, engine.serial) == ("greywacke", "bay-2", "GQ-E-2207")
    assert list(found.attempts) == ["rim", "face", "visual"]
    rim, face = sweep_of(bench.state()), sweep_of(bench.state(), "face")
    assert rim.angle_deg[0] == 0
    assert rim.angle_deg[-1] == 365
    assert rim.radius_mm is None
    assert face.radius_mm == 150
    assert rim.gauge.resolution_mm == 0.001
    assert rim.gauge.calibration_due == "2027-06-01"
    assert found.attempts["visual"] == (
        Observed((Item("leak", "good"), Item("dents", "bad", "two, at the rim"))),
    )
    # Each change of the result was told, with the event that must be committed first.
    state = fold(bench.journal.read(name))
    assert [inspection for inspection, _ in bench.changed] == [name] * 6
    for revision, (_, seq) in enumerate(bench.changed, start=1):
        assert fold(bench.journal.read(name, upto=seq)).revision == revision
        assert fold(bench.journal.read(name), revision=revision).revision == revision
    with pytest.raises(FoldError, match="no revision 7"):
        fold(bench.journal.read(name), revision=7)
    assert state.opened.operator == "R. Example"


def test_events_go_out_as_they_are_journalled_readings_excepted(bench: Workbench) -> None:
    name = bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 50)
    bench.do("cancel")
    bench.do("record", check="visual", items=ITEMS)
    events = sent(bench)
    assert [e["event"] for e in events] == ["opened", "sweep-begun", "sweep-ended", "observation"]
    opened, begun, ended, _ = events
    assert set(opened["method"]) == {"id", "version", "sha256"}
    assert opened["method"]["sha256"] == bench.files.method.sha256()
    assert opened["time"] == "2026-03-02T06:00:01.000Z"
    assert begun["gauge"]["mpe_mm"] == 0.004
    assert ended["reason"] == "cancelled"
    assert all(e["inspection"] == name and e["operator"] == "R. Example" for e in events)
    assert max(len(json.dumps(e)) for e in events) < 20_000
    kept = {e.seq: e.kind for e in bench.journal.read(name)}
    assert all(kept[e["seq"]] == e["event"] for e in events)


def test_readings_outside_a_sweep_and_of_other_gauges_are_not_journalled(bench: Workbench) -> None:
    bench.open()
    bench.read(ENCODER, 5_000_000, Unit.UDEG)
    bench.read(INDICATOR, 1)
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.read(KEYED, 38_000_000)
    bench.wait(0.01)
    bench.read(ENCODER, 6_000_000, Unit.UDEG)
    bench.read(INDICATOR, 2)
    bench.do("end")
    bench.read(INDICATOR, 3)
    samples = [(e.gauge, e.value) for e in bench.journal_events() if isinstance(e, Sample)]
    # The encoder's last value from before tells where the crank stood.
    assert samples == [(ENCODER, 5_000_000), (ENCODER, 6_000_000), (INDICATOR, 2)]


def test_an_encoder_not_heard_for_long_says_nothing_of_where_the_crank_is(bench: Workbench) -> None:
    bench.open()
    bench.read(ENCODER, 5_000_000, Unit.UDEG)
    bench.wait(6)
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("end")
    assert not [e for e in bench.journal_events() if isinstance(e, Sample)]


def test_a_repeated_request_is_answered_again_and_not_done_again(bench: Workbench) -> None:
    said = {
        "id": "a",
        "operator": "R. Example",
        "engine": "GQ-E-2207",
        "damper": "GQ-D-0815",
        "scope": "bench",
    }
    first = bench.send_raw("open", said)
    assert first["ok"]
    assert bench.send_raw("open", said) == first
    refusal = bench.send_raw("end", {"id": "b", "operator": "R. Example"})
    assert refusal["error"]["code"] == "out-of-order"
    bench.restart()
    assert bench.send_raw("open", said) == first
    assert bench.send_raw("end", {"id": "b", "operator": "R. Example"}) == refusal
    # The same in other words is the same; another command under a used id is not done, and says so.
    assert bench.send_raw("open", dict(reversed(said.items()))) == first
    for name, other in (
        ("close", {"id": "a", "operator": "R. Example"}),
        ("open", {**said, "scope": "both"}),
    ):
        error = bench.send_raw(name, other)["error"]
        assert error["code"] == "id-reused"
        assert error["message"].count("another command") == 1
        bench.restart()
    assert bench.send_raw("open", said) == first
    assert len(bench.journal.inspections()) == 1
    assert bench.journal.reply("a") == json.dumps(first, separators=(",", ":")).encode()


def test_a_reply_waits_for_its_event_and_a_refusal_that_is_remembered_for_itself(bench: Workbench) -> None:
    payload = json.dumps({"id": "a", "operator": "R. Example"}).encode()
    assert bench.bay.command("end", b"no command").seq == 0
    refusal = bench.bay.command("end", payload)
    assert refusal.seq > 0
    bench.flush()
    assert bench.journal.reply("a") == refusal.payload
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    reply = bench.bay.command("end", payload.replace(b'"a"', b'"b"'))
    assert reply.ok
    assert [e.seq for e in bench.journal_events() if e.kind == "sweep-ended"] == [reply.seq]


def test_out_of_order(bench: Workbench) -> None:
    for name, said in (
        ("begin", {"check": "rim", "gauge": INDICATOR}),
        ("mark", {"angle_deg": 0}),
        ("end", {}),
        ("cancel", {}),
        ("record", {"check": "visual", "items": ITEMS}),
    ):
        assert bench.refused(name, **said) == "out-of-order"
    assert bench.refused("close", inspection="truck-14") == "no-such-inspection"
    assert bench.refused("sign", inspection="truck-14", name="M") == "no-such-inspection"
    name = bench.open()
    assert bench.refused("open", engine="E", damper="D", scope="bench") == "out-of-order"
    assert bench.refused("sign", inspection=name, name="M") == "out-of-order"
    assert bench.refused("end") == "out-of-order"
    assert bench.refused("begin", check="rim", gauge="indicator-9") == "no-such-gauge"
    assert bench.refused("begin", check="rim", gauge=ENCODER) == "wrong-gauge"
    assert bench.refused("record", angle_deg=0, value_mm=0.1) == "out-of-order"
    assert bench.refused("mark") == "angle-needed"
    bench.do("begin", check="rim", gauge=INDICATOR)
    assert bench.refused("begin", check="face", gauge=INDICATOR) == "out-of-order"
    assert bench.refused("close", inspection=name) == "out-of-order"
    assert bench.refused("record", angle_deg=0, value_mm=0.1) == "out-of-order"
    thickness = {"check": "thickness", "station_deg": 0, "radius": "outer", "value_mm": 38}
    assert bench.refused("record", **thickness) == "out-of-order"
    bench.do("end")
    assert bench.refused("record", **{**thickness, "station_deg": 45}) == "malformed"
    bench.do("close", inspection=name)
    assert bench.refused("close", inspection=name) == "out-of-order"
    assert bench.refused("begin", check="rim", gauge=INDICATOR) == "out-of-order"
    bench.do("sign", inspection=name, name="M", sure=True)
    assert bench.refused("sign", inspection=name, name="M") == "out-of-order"
    assert bench.refused("abandon", inspection=name) == "out-of-order"
    assert (
        bench.refused("open", inspection=name, engine="E", damper="D", scope="bench") == "inspection-exists"
    )
    assert bench.state().revision == 4


def test_an_older_inspection_can_be_signed_while_another_is_open(bench: Workbench) -> None:
    first = bench.open("truck-14")
    bench.do("close", inspection=first)
    second = bench.open("truck-15")
    bench.restart()
    bench.do("sign", inspection=first, name="R. Example", sure=True)
    assert bench.state(first).state == "signed"
    assert bench.bay.latest == second
    assert bench.state(second).state == "open"
    assert bench.changed[-1][0] == first
    assert bench.journal.latest_inspection() == second


def test_an_inspection_given_no_id_gets_one_of_its_own(bench: Workbench) -> None:
    said = {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "bench"}
    first = bench.do("open", **said)["inspection"]
    bench.do("abandon", inspection=first)
    second = bench.do("open", **said)["inspection"]
    assert first != second
    assert first.startswith("20260302-060001-")
    assert bench.state(first).state == "abandoned"


def test_abandoning_cancels_the_sweep_that_runs(bench: Workbench) -> None:
    name = bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 50)
    bench.do("abandon", inspection=name)
    assert not bench.bay.is_sweeping
    assert bench.bay.live() == Live(cautions=USUAL["unlock"])
    state = bench.state()
    assert (state.state, len(state.cancelled), state.finished) == ("abandoned", 1, [])


@pytest.mark.parametrize("state", [PortState.ABSENT, PortState.SILENT, PortState.HUNTING, PortState.LOST])
@pytest.mark.parametrize("gauge", [INDICATOR, ENCODER])
def test_a_sweep_needs_its_gauge_and_its_encoder(bench: Workbench, gauge: str, state: PortState) -> None:
    bench.open()
    bench.gauge(gauge, state, "nothing came: switch it on")
    reply = bench.send("begin", check="rim", gauge=INDICATOR)
    assert reply["error"]["code"] == "gauge-absent"
    assert gauge in reply["error"]["message"]
    assert f"({state.told}: nothing came: switch it on)" in reply["error"]["message"]
    assert not bench.bay.is_sweeping


def test_a_gauge_unplugged_within_a_sweep_leaves_a_gap_and_the_sweep_goes_on(bench: Workbench) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 100)
    for state in (PortState.SILENT, PortState.LOST, PortState.ABSENT, PortState.OPENING, PortState.HUNTING):
        bench.gauge(INDICATOR, state)
    live = bench.bay.live()
    assert live is not None
    assert live.value_mm is None
    assert "indicator-1 is away" in live.warnings
    for angle in range(100, 130):
        bench.wait(0.01)
        bench.read(ENCODER, angle * 1_000_000, Unit.UDEG)
    bench.gauge(INDICATOR, PortState.LIVE)
    bench.bar(130, 500)
    assert not bench.bay.is_sweeping
    sweep = sweep_of(bench.state())
    assert sweep.interrupted == ("indicator-1 was away for 0.3 s, from 99 degrees on",)
    assert max(b - a for a, b in zip(sweep.angle_deg, sweep.angle_deg[1:], strict=False)) == pytest.approx(31)
    kinds = [e["event"] for e in sent(bench)]
    assert kinds == ["opened", "sweep-begun", "gauge-away", "gauge-back", "sweep-ended"]


def test_a_gauge_going_outside_its_sweep_is_no_event(bench: Workbench) -> None:
    bench.open()
    bench.gauge(INDICATOR, PortState.ABSENT)
    bench.gauge(INDICATOR, PortState.LIVE)
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.gauge(KEYED, PortState.ABSENT)
    assert [e.kind for e in bench.journal_events()] == ["opened", "sweep-begun"]


def test_frames_lost_on_the_way_reach_the_sweep(bench: Workbench) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 10)
    bench.read(INDICATOR, 5, skip=3)
    live = bench.bay.live()
    assert live is not None
    assert (live.lost, live.warnings) == (3, ("3 readings lost",))
    bench.bar(10, 20)
    bench.do("end")
    assert sweep_of(bench.state()).lost == 3


@pytest.mark.parametrize("boots", [False, True])
def test_after_a_restart_the_sweep_goes_on_where_it_was(bench: Workbench, boots: bool) -> None:
    name = bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 200)
    before = bench.bay.live()
    bench.wait(30)
    bench.restart(now_ns=5_000_000_000 if boots else None)
    after = bench.bay.live()
    assert before is not None
    assert after is not None
    assert after.inspection == name
    assert (after.check, after.readings, after.covered_deg) == ("rim", 200, before.covered_deg)
    bench.bar(200, 500)
    assert not bench.bay.is_sweeping
    sweep = sweep_of(bench.state())
    assert sweep.interrupted == ("the daemon was restarted",)
    assert sweep.lost == 0
    assert (sweep.angle_deg[0], sweep.angle_deg[-1]) == (0, 365)
    assert (sweep.time_s[1:] >= sweep.time_s[:-1]).all()
    # Repeated: both are on record, in order.
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 500)
    assert len(to_evidence(bench.state()).attempts["rim"]) == 2
    bench.do("close", inspection=name)
    assert bench.state().closed_utc is not None
    assert str(bench.state().closed_utc)[:16] == "2026-03-02T06:00"


def test_after_a_restart_without_an_open_inspection_nothing_is_resumed(bench: Workbench) -> None:
    bench.restart()
    assert bench.bay.latest is None
    name = bench.open()
    bench.do("close", inspection=name)
    count = len(bench.journal_events())
    bench.restart()
    assert bench.bay.latest == name
    assert len(bench.journal_events()) == count
    bench.do("sign", inspection=name, name="R. Example", sure=True)


def test_what_the_bay_believes_is_what_the_journal_says(bench: Workbench) -> None:
    name = bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 200)
    bench.restart()
    bench.bar(200, 500)
    bench.do("record", check="visual", items=ITEMS)
    bench.do("record", check="thickness", station_deg=0, radius="outer", value_mm=38.01)
    bench.do("record", check="thickness", station_deg=0, radius="inner", value_mm=38.0)
    bench.flush()
    believed = bench.bay._state
    assert believed is not None
    assert believed == fold(bench.journal.read(name, samples=False))


def test_the_same_journal_gives_the_same_evidence(bench: Workbench) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 500)
    first = to_evidence(bench.state())
    bench.restart()
    second = to_evidence(bench.state())
    assert first.readings_sha256 == second.readings_sha256
    assert first.revision == second.revision
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 100, value_nm=7)
    bench.do("cancel")
    assert to_evidence(bench.state()).readings_sha256 == first.readings_sha256
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 100, value_nm=7)
    bench.do("end")
    assert to_evidence(bench.state()).readings_sha256 != first.readings_sha256


def test_live_figures(bench: Workbench) -> None:
    assert bench.bay.live() is None
    name = bench.open()
    idle = bench.bay.live()
    assert idle is not None
    assert (idle.inspection, idle.check, idle.value_mm) == (name, None, None)
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.read(INDICATOR, 5)
    waiting = bench.bay.live()
    assert waiting is not None
    assert waiting.warnings == ("no angle from encoder-1 yet",)
    bench.bar(355, 365, value_nm=100_000)
    live = bench.bay.live()
    assert live is not None
    assert (live.angle_deg, live.turn, live.readings, live.limit_mm) == (4, 0, 11, 0.28)
    assert live.covered_deg is not None
    assert live.to_bar_deg == 365 - live.covered_deg
    assert (live.value_mm, live.min_mm, live.max_mm) == (0.100004, 0.000005, 0.100359)
    assert live.max_deviation_mm == pytest.approx(0.100354)
    assert live.covered_deg == 9
    json.dumps([live.warnings, live.angle_u_deg, live.back_deg], allow_nan=False)
