"""Typed readings corrected, what a needle showed between stops, and a gauge near an end of its travel."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from acquire.bay.evidence import readings_sha256, to_evidence
from acquire.journal.events import TypedLift, TypedRunout, TypedThickness, decode_event
from acquire.runs.travel import travel_warning
from contract.units import Unit
from grading.evidence import Sweep, Thickness
from tests.acquire.workbench import ENCODER, INDICATOR, Workbench

MM = 1_000_000


def sweep_of(bench: Workbench) -> Sweep:
    (found,) = to_evidence(bench.state()).attempts["rim"]
    assert isinstance(found, Sweep)
    return found


@pytest.fixture
def dial(bench: Workbench) -> Workbench:
    bench.open()
    bench.do("begin", check="rim", gauge="typed")
    for angle, value in ((0, 0.10), (45, 2.13), (90, 0.30)):
        bench.do("record", angle_deg=angle, value_mm=value)
    return bench


def test_a_dial_reading_is_corrected_in_its_place(dial: Workbench) -> None:
    reply = dial.do("record", angle_deg=45, value_mm=0.213, replace=True)
    assert (reply["replaced_mm"], reply["readings"]) == (2.13, 3)
    live = dial.bay.live()
    assert live is not None
    assert (live.max_mm, live.readings, live.value_mm) == (0.3, 3, 0.3)
    dial.restart()
    reply = dial.do("record", angle_deg=45, value_mm=0.214, replace=True)
    assert reply["replaced_mm"] == 0.213
    dial.do("end")
    sweep = sweep_of(dial)
    assert sweep.angle_deg.tolist() == [0, 45, 90]
    assert sweep.value_mm.tolist() == [0.10, 0.214, 0.30]
    assert sweep.low_mm is None
    assert sweep.put_right == ((45, 2.13, 0.214), (45, 0.213, 0.214))
    # The old ones stay on record.
    typed = [e.value_nm for e in dial.journal_events() if isinstance(e, TypedRunout)]
    assert typed == [100_000, 2_130_000, 300_000, 213_000, 214_000]


def test_a_corrected_sweep_hashes_as_one_typed_right(dial: Workbench) -> None:
    dial.do("record", angle_deg=45, value_mm=0.2, replace=True)
    dial.do("end")
    corrected = readings_sha256(dial.state())
    dial.do("abandon", inspection="truck-14")
    dial.open("truck-15")
    dial.do("begin", check="rim", gauge="typed")
    for angle, value in ((0, 0.10), (45, 0.2), (90, 0.30)):
        dial.do("record", angle_deg=angle, value_mm=value)
    dial.do("end")
    assert readings_sha256(dial.state()) == corrected


def test_there_must_be_something_to_replace(dial: Workbench) -> None:
    assert dial.refused("record", angle_deg=46, value_mm=0.2, replace=True) == "nothing-to-replace"
    items = [{"item": "leak", "seen": "good"}]
    assert dial.refused("record", check="visual", items=items, replace=True) == "malformed"
    dial.do("end")
    assert dial.refused("record", angle_deg=45, value_mm=0.2, replace=True) == "out-of-order"
    place: dict[str, Any] = {"check": "thickness", "station_deg": 0, "radius": "outer"}
    assert dial.refused("record", **place, value_mm=38, replace=True) == "nothing-to-replace"


def test_a_thickness_is_corrected_also_once_the_set_is_complete(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge="typed")
    for station in (0, 90, 180, 270):
        for radius in ("outer", "inner"):
            value = 38.0 if (station, radius) != (90, "inner") else 83.0
            bench.do("record", check="thickness", station_deg=station, radius=radius, value_mm=value)
    bench.do("record", check="thickness", radius="zero", value_mm=0.002)
    assert not bench.bay.is_sweeping
    place: dict[str, Any] = {"check": "thickness", "station_deg": 90, "radius": "inner"}
    revision = bench.state().revision
    assert bench.do("record", **place, value_mm=38.1, replace=True)["replaced_mm"] == 83
    assert bench.state().revision == revision + 1
    (found,) = to_evidence(bench.state()).attempts["thickness"]
    assert isinstance(found, Thickness)
    assert [r.value_nm for r in found.readings] == [38 * MM] * 3 + [38_100_000] + [38 * MM] * 4
    bench.do("close", inspection="truck-14")
    assert bench.refused("record", **place, value_mm=38, replace=True) == "out-of-order"


def test_live_forgets_a_thickness_that_was_corrected(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge="typed")
    place: dict[str, Any] = {"check": "thickness", "station_deg": 0, "radius": "outer"}
    bench.do("record", **place, value_mm=83)
    bench.do("record", **place, value_mm=38, replace=True)
    live = bench.bay.live()
    assert live is not None
    assert (live.max_mm, live.readings, live.next_radius) == (38, 1, "inner")


def test_the_last_lift_is_corrected(bench: Workbench) -> None:
    bench.open()
    bench.do("begin", check="lifts", gauge="typed")
    assert bench.refused("record", check="lifts", value_mm=0.5, replace=True) == "nothing-to-replace"
    for value in (0.50, 0.51, 5.0):
        bench.do("record", check="lifts", value_mm=value)
    assert bench.do("record", check="lifts", value_mm=0.5, replace=True)["replaced_mm"] == 5
    bench.do("end")
    live = bench.bay.live()
    assert live is not None
    assert live.warnings == ()
    assert live.repeatability_mm is not None
    assert live.repeatability_mm < 0.01


def test_what_the_needle_showed_between_stops_reaches_the_evidence(bench: Workbench) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge="typed")
    bench.do("record", angle_deg=0, value_mm=0.1)
    bench.do("record", angle_deg=45, value_mm=0.2, low_mm=0.05, high_mm=0.4)
    bench.do("record", angle_deg=90, value_mm=0.3, high_mm=0.29)  # within a step of the display
    live = bench.bay.live()
    assert live is not None
    assert (live.min_mm, live.max_mm) == (0.05, 0.4)
    assert bench.refused("record", angle_deg=99, value_mm=0.3, low_mm=0.32) == "malformed"
    assert bench.refused("record", angle_deg=99, value_mm=0.3, high_mm=0.28) == "malformed"
    place = {"check": "thickness", "station_deg": 0, "radius": "outer"}
    assert bench.refused("record", **place, value_mm=38, low_mm=37) == "malformed"
    reply = bench.do("record", angle_deg=45, value_mm=0.2, low_mm=0.06, replace=True)
    assert (reply["replaced_low_mm"], reply["replaced_high_mm"]) == (0.05, 0.4)
    bench.do("end")
    sweep = sweep_of(bench)
    assert sweep.low_mm is not None
    assert sweep.high_mm is not None
    np.testing.assert_array_equal(sweep.low_mm, [math.nan, 0.06, math.nan])
    np.testing.assert_array_equal(sweep.high_mm, [math.nan, 0.4, 0.29])


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        (TypedRunout, '{"angle_udeg":1,"value_nm":2}'),
        (TypedLift, '{"value_nm":2}'),
        (
            TypedThickness,
            '{"place":{"station_udeg":0,"radius":"outer"},"value_nm":1,'
            '"gauge":{"id":"typed","resolution_nm":1,"mpe_nm":1,"calibration_due":null,"latency_u_ns":0}}',
        ),
    ],
)
def test_events_of_older_journals_are_read(kind: type, body: str) -> None:
    # Its kind is one of those that are typed.
    event = decode_event(kind.kind, body, inspection="i", time_ns=0, operator=None, seq=1)  # type: ignore[attr-defined]
    assert isinstance(event, kind)
    assert event.replaces == 0  # type: ignore[attr-defined]  # of those that are typed


@pytest.mark.parametrize(
    ("low", "high", "is_near"),
    [
        (0, 8 * MM, False),
        (0, 9 * MM, True),
        (8 * MM, 9 * MM, True),  # set to zero at one end, standing near the other
        (-4 * MM, 5 * MM, True),
        (-4 * MM, 4 * MM, False),
        (30 * MM, 38 * MM, False),  # zero lies elsewhere
        (30 * MM, 39 * MM, True),
    ],
)
def test_an_end_of_travel_may_be_near(low: int, high: int, is_near: bool) -> None:
    assert (travel_warning(10 * MM, low, high) is not None) == is_near
    assert travel_warning(None, low, high) is None


def test_live_says_what_to_do_near_an_end_of_travel(bench: Workbench) -> None:
    bench.files.settings.gauge[0].__dict__["travel_mm"] = 5.0
    bench.restart()
    bench.open()
    bench.read(ENCODER, 0, Unit.UDEG)
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.read(INDICATOR, 1 * MM)
    live = bench.bay.live()
    assert live is not None
    assert live.warnings == ()
    bench.read(INDICATOR, 4_600_000)
    live = bench.bay.live()
    assert live is not None
    assert "4.60 of the 5 mm of travel" in live.warnings[0]
    assert "middle of its travel" in live.warnings[0]


def test_live_shows_what_counts_at_each_place_of_a_casing(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("begin", check="thickness", gauge="typed")
    place = {"check": "thickness", "station_deg": 0, "radius": "outer"}
    for value_mm in (38.0, 38.2):
        bench.do("record", **place, value_mm=value_mm)
    bench.do("record", **place, value_mm=38.1, replace=True)
    bench.do("record", **place, value_mm=38.4, replace=True)
    live = bench.bay.live()
    assert live is not None
    assert [part.model_dump() for part in live.places] == [
        {"station_deg": 0, "radius": "outer", "value_mm": 38.2, "readings": 2}
    ]
