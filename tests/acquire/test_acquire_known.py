"""What the register says of an engine, a damper and a gauge goes into the inspection."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.known import UNREAD, Known
from config.method import GaugeRules
from config.programme import DamperLimits, RatingRange, Suitability
from grading.assess import assess
from tests.acquire.workbench import INDICATOR, Workbench

KNOWN = Known(
    ratings_kw={"GQ-E-2207": 310.0, "GQ-E-2208": None},
    dampers={"GQ-D-0815": ("viscous", "rolled"), "GQ-D-0816": ("rubber", None)},
)


def opened(bench: Workbench, **said: Any) -> dict[str, Any]:
    return bench.do("open", **{"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine", **said})


def test_what_is_not_told_is_taken_from_it(bench: Workbench) -> None:
    bench.bay.known = KNOWN
    assert "warnings" not in opened(bench)
    header = bench.state().opened.header
    assert header.engine.rating_kw == 310
    assert (header.damper.family, header.damper.construction) == ("viscous", "rolled")


def test_what_is_told_counts_and_is_held_against_it(bench: Workbench) -> None:
    bench.bay.known = KNOWN
    reply = opened(bench, construction="welded", rating_kw=250)
    assert reply["warnings"] == [
        "the register says rolled of damper GQ-D-0815, not welded: check its serial and its edge"
    ]
    header = bench.state().opened.header
    assert (header.engine.rating_kw, header.damper.construction) == (250, "welded")


@pytest.mark.parametrize(
    ("said", "opens"),
    [
        ({"family": "rubber"}, False),
        ({"construction": "welded"}, False),
        ({"construction": "rolled"}, True),
        ({}, True),
    ],
)
def test_no_looser_limit_is_told_against_the_register(
    bench: Workbench, said: dict[str, str], opens: bool
) -> None:
    """A viscous damper opened as one of rubber had its 2.03 mm."""
    looser = (
        DamperLimits(family="rubber", rim_mm=2.03),
        DamperLimits(construction="welded", thickness_mm=0.3),
    )
    method = bench.files.method.model_copy(update={"damper": looser})
    bench.journal.close()
    bench.files = replace(bench.files, method=method)
    bench.start()
    bench.bay.known = KNOWN
    reply = bench.send("open", engine="GQ-E-2207", damper="GQ-D-0815", scope="both", **said)
    assert reply["ok"] is opens
    if not opens:
        assert "the register says " in reply["error"]["message"]
        assert "leave it out, or mend the register first" in reply["error"]["message"]


@pytest.mark.parametrize(
    ("said", "opens"),
    [({"rating_kw": 250}, False), ({"construction": "welded"}, False), ({"rating_kw": 310}, True)],
)
def test_no_damper_is_told_to_suit_against_the_register(
    bench: Workbench, said: dict[str, Any], opens: bool
) -> None:
    """A rolled edge up to 300 kW, and an engine of 310 kW."""
    suits = Suitability(construction={"rolled": RatingRange(most_kw=300.0)})
    method = bench.files.method.model_copy(update={"suitability": suits})
    bench.journal.close()
    bench.files = replace(bench.files, method=method)
    bench.start()
    bench.bay.known = KNOWN
    reply = bench.send("open", engine="GQ-E-2207", damper="GQ-D-0815", scope="bench", **said)
    assert reply["ok"] is opens
    if not opens:
        assert "by the register a rolled edge suits engines up to 300 kW" in reply["error"]["message"]


@pytest.mark.parametrize(
    ("said", "warning"),
    [
        ({"engine": "GQ-E-2270"}, "the register has no engine GQ-E-2270; is GQ-E-2208 or GQ-E-2207 meant?"),
        ({"damper": "X-1"}, "the register has no damper X-1"),
    ],
)
def test_a_serial_that_it_does_not_hold_is_told(bench: Workbench, said: dict[str, str], warning: str) -> None:
    bench.bay.known = KNOWN
    assert opened(bench, **said)["warnings"] == [warning]


@pytest.mark.parametrize("edge", ["Welded", "unknown", "rolled edge"])
def test_an_edge_that_no_method_can_name_is_refused(bench: Workbench, edge: str) -> None:
    reply = bench.send("open", engine="GQ-E-2207", damper="GQ-D-0815", scope="bench", construction=edge)
    assert reply["error"]["code"] == "malformed"
    assert "rolled" in reply["error"]["message"]


def test_one_that_was_not_read_yet_is_told(bench: Workbench) -> None:
    bench.bay.known = UNREAD
    (warning,) = opened(bench)["warnings"]
    assert "the register has not been read yet" in warning


def test_an_empty_one_has_nothing_to_say(bench: Workbench) -> None:
    assert "warnings" not in opened(bench)


@pytest.mark.parametrize(("past_due", "begins"), [("warn", True), ("refuse", False)])
def test_a_gauge_past_its_date_is_taken_or_refused_as_the_method_says(
    bench: Workbench, past_due: Any, begins: bool
) -> None:
    settings = bench.files.settings
    gauge = settings.gauge[0].model_copy(update={"calibration_due": None, "serial": "GQ-G-7"})
    settings = settings.model_copy(update={"gauge": (gauge, *settings.gauge[1:])})
    method = bench.files.method.model_copy(update={"gauges": GaugeRules(past_due=past_due)})
    bench.journal.close()
    bench.files = replace(bench.files, settings=settings, method=method)
    bench.start()
    bench.bay.known = Known(gauges_due={"gq-g-7": date(2026, 3, 1)})
    opened(bench)
    reply = bench.send("begin", check="rim", gauge=INDICATOR)
    assert reply["ok"] is begins
    if not begins:
        assert reply["error"]["code"] == "past-due"
        assert "was due on 2026-03-01" in reply["error"]["message"]


@pytest.mark.parametrize(("kept", "counts"), [(0.03, 0.03), (0.001, 0.004)])
def test_the_larger_error_of_a_gauge_counts_of_register_and_configuration(
    bench: Workbench, kept: float, counts: float
) -> None:
    """Calibration found it poorer, and the bay's file has what it was bought with."""
    settings = bench.files.settings
    gauge = settings.gauge[0].model_copy(update={"mpe_mm": 0.004, "serial": "GQ-G-7"})
    bench.journal.close()
    bench.files = replace(
        bench.files, settings=settings.model_copy(update={"gauge": (gauge, *settings.gauge[1:])})
    )
    bench.start()
    bench.bay.known = Known(gauges_mpe_mm={"gq-g-7": kept})
    opened(bench)
    bench.do("begin", check="rim", gauge=INDICATOR)
    assert bench.state().running[0].begun.gauge.mpe_mm == counts


def test_what_was_opened_before_it_was_read_says_so_in_its_result(bench: Workbench) -> None:
    bench.bay.known = UNREAD
    opened(bench)
    bench.do("close", inspection=bench.state().id)
    found = assess(to_evidence(bench.state()), bench.files.method)
    assert found.register_unread
    assert found.reasons[-1].startswith("the register had not been read when this was opened")


@pytest.mark.parametrize(
    ("said", "ends"), [({"family": "rubber"}, False), ({"family": "viscous"}, True), ({}, True)]
)
def test_it_is_asked_at_the_end_of_what_was_opened_before_it_was_read(
    bench: Workbench, said: dict[str, str], ends: bool
) -> None:
    """Just after a start a viscous damper opened as one of rubber had its 2.03 mm to the end."""
    method = bench.files.method.model_copy(update={"damper": (DamperLimits(family="rubber", rim_mm=2.03),)})
    bench.journal.close()
    bench.files = replace(bench.files, method=method)
    bench.start()
    bench.bay.known = UNREAD
    opened(bench, **said)
    name = bench.state().id
    bench.bay.known = KNOWN
    reply = bench.send("close", inspection=name)
    assert reply["ok"] is ends
    if not ends:
        assert "was opened before the register was read" in reply["error"]["message"]
        bench.bay.known = UNREAD
        bench.do("close", inspection=name)
        bench.bay.known = KNOWN
        assert bench.refused("sign", inspection=name, name="R. Example", sure=True) == "out-of-order"


def test_a_register_that_was_put_right_meanwhile_is_asked_at_the_end(bench: Workbench) -> None:
    """The damper stood in it as one of rubber, and nobody would have looked again."""
    method = bench.files.method.model_copy(update={"damper": (DamperLimits(family="rubber", rim_mm=2.03),)})
    bench.journal.close()
    bench.files = replace(bench.files, method=method)
    bench.start()
    bench.bay.known = Known(dampers={"GQ-D-0815": ("rubber", None)})
    opened(bench)
    name = bench.state().id
    bench.do("close", inspection=name)
    bench.bay.known = KNOWN
    said = bench.send("sign", inspection=name, name="R. Example", sure=True)["error"]["message"]
    assert said.startswith(f"sign: {name} was opened before the register was as it is now; the register says")


def test_a_serial_written_otherwise_before_it_was_read_is_not_ended(bench: Workbench) -> None:
    bench.bay.known = UNREAD
    opened(bench, damper="gq-d-0815", family="rubber")
    bench.bay.known = KNOWN
    said = bench.send("close", inspection=bench.state().id)["error"]["message"]
    assert "the register has damper GQ-D-0815, and 'gq-d-0815' differs by capitals" in said


def test_who_suits_only_while_it_is_not_read_is_not_ended(bench: Workbench) -> None:
    """An engine of 310 kW was told to have 250, and a rolled edge suits up to 300."""
    suits = Suitability(construction={"rolled": RatingRange(most_kw=300.0)})
    method = bench.files.method.model_copy(update={"suitability": suits})
    bench.journal.close()
    bench.files = replace(bench.files, method=method)
    bench.start()
    bench.bay.known = UNREAD
    opened(bench, construction="rolled", rating_kw=250)
    bench.bay.known = KNOWN
    said = bench.send("close", inspection=bench.state().id)["error"]["message"]
    assert "by the register a rolled edge suits engines up to 300 kW" in said


def test_a_clock_that_stands_before_an_earlier_inspection_is_told_of(bench: Workbench) -> None:
    bench.bay.known = Known()
    opened(bench)
    bench.do("abandon", inspection=str(bench.bay.latest))
    bench.clock.epoch = datetime(2000, 1, 1, tzinfo=UTC)
    (warning,) = opened(bench)["warnings"]
    assert warning.startswith("by this machine's clock it is 2000-01-01T00:00Z, and inspection ")
    assert "was opened at 2026-03-02T06:00Z: set the clock" in warning


@pytest.mark.parametrize(
    "said",
    [{"damper": "gq-d-0815"}, {"damper": "GQ-D-0815 "}, {"engine": " GQ-E-2207"}, {"engine": "gq-E-2207"}],
)
def test_a_serial_that_the_register_has_otherwise_written_is_not_taken(
    bench: Workbench, said: dict[str, str]
) -> None:
    """By it no register, history or limit of that damper would count."""
    bench.bay.known = KNOWN
    reply = bench.send("open", **{"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine", **said})
    assert "differs by capitals or spaces alone" in reply["error"]["message"]
    opened(bench, damper="gq-d-08150")
    bench.do("close", inspection=bench.bay.latest)
    bench.do("sign", inspection=bench.bay.latest, name="R. Example", sure=True)
    correct = {"inspection": bench.bay.latest, "name": "R. Example", "why": "misread"}
    assert bench.refused("correct", **correct, **said) == "malformed"
    bench.do("correct", **correct, damper="GQ-D-0815")
