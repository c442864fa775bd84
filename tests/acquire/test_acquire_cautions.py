"""Cautions at the step they belong to, in `live` and in the reply; figures that a check by eye must state."""

from __future__ import annotations

from typing import Any

import pytest

from acquire.bay.evidence import to_evidence
from config.cautions import USUAL
from grading.assess import assess
from tests.acquire.workbench import INDICATOR, Workbench


def shown(bench: Workbench) -> tuple[str, ...]:
    live = bench.bay.live()
    return () if live is None else live.cautions


def items(bench: Workbench, check: str, **figures: float) -> list[dict[str, Any]]:
    """All good, with the figures given by item."""
    rules = bench.files.method.observed[check].item  # type: ignore[index]  # it is there, or the test fails
    named = {name.replace("_", "-"): value for name, value in figures.items()}
    said: list[dict[str, Any]] = []
    for rule in rules:
        one: dict[str, Any] = {"item": rule.id, "seen": "good"}
        if rule.figure is not None and rule.id in named:
            one[rule.figure] = named[rule.id]
        said.append(one)
    return said


def test_each_step_on_the_engine_shows_its_cautions_and_tells_them_in_the_reply(bench: Workbench) -> None:
    assert shown(bench) == ()
    on_engine = (*USUAL["on-engine"], *USUAL["rim"])
    opening = (*on_engine, *USUAL["visual"])
    said = {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine"}
    opened = bench.do("open", **said)
    assert tuple(opened["cautions"]) == shown(bench) == opening
    bench.do("record", check="visual", items=items(bench, "visual"))
    assert shown(bench) == on_engine  # the mark is brought under its pointer before a sweep begins
    begun = bench.do("begin", check="rim", gauge=INDICATOR)
    assert tuple(begun["cautions"]) == shown(bench) == USUAL["rim"]
    assert "by the damper or its bolts" in shown(bench)[0]
    bench.restart()
    assert shown(bench) == USUAL["rim"]
    assert "cautions" not in bench.do("cancel")
    closed = bench.do("close", inspection=opened["inspection"])
    assert tuple(closed["cautions"]) == shown(bench) == USUAL["unlock"]
    bench.flush()
    bench.do("sign", inspection=opened["inspection"], name="R. Example", sure=True)
    assert shown(bench) == USUAL["unlock"]


def test_on_the_bench_nothing_is_locked(bench: Workbench) -> None:
    name = bench.open(scope="bench")
    assert shown(bench) == (*USUAL["bench"], *USUAL["penetrant"], *USUAL["warm-leak"])
    bench.do("close", inspection=name)
    assert shown(bench) == ()


def outcome(bench: Workbench, check: str) -> tuple[str, str]:
    found = assess(to_evidence(bench.state()), bench.files.method).checks.by_name()[check]
    return found.outcome, found.reason


def test_a_figure_that_is_asked_for_must_come_with_its_item(bench: Workbench) -> None:
    bench.open(scope="bench")
    reply = bench.send("record", check="penetrant", items=items(bench, "penetrant", temperature=21))
    assert reply["error"]["code"] == "malformed"
    wanted = (
        'record: penetrant-dwell needs its time in minutes: add "time_min": 20 to that item, '
        "or time it with the command time"
    )
    assert reply["error"]["message"] == wanted
    misplaced = [{"item": "rim", "seen": "good", "time_min": 20}]
    assert (
        "rim takes no time_min"
        in bench.send("record", check="penetrant", items=misplaced)["error"]["message"]
    )
    bench.do("record", check="penetrant", items=[{"item": "penetrant-dwell", "seen": "not seen"}])


@pytest.mark.parametrize(
    ("figures", "found"),
    [
        (
            {"temperature": 21, "penetrant_dwell": 20, "developer_dwell": 15},
            ("good", "all 8 items seen and good"),
        ),
        (
            {"temperature": 8, "penetrant_dwell": 20, "developer_dwell": 15},
            ("invalid", "not done as the method asks: temperature (8 °C, at least 10 °C is asked for); do"),
        ),
        (
            {"temperature": 50, "penetrant_dwell": 4.5, "developer_dwell": 31},
            ("invalid", "penetrant-dwell (4.5 min, at least 5 min is asked for), developer-dwell (31 min, "),
        ),
    ],
)  # fmt: skip
def test_a_dwell_or_temperature_out_of_bounds_is_no_check(
    bench: Workbench, figures: dict[str, float], found: tuple[str, str]
) -> None:
    """Bounds of ISO 3452-1, 8.4.2, and the scope of ISO 3452-2:2021."""
    bench.open(scope="bench")
    bench.do("record", check="penetrant", items=items(bench, "penetrant", **figures))
    verdict, reason = outcome(bench, "penetrant")
    assert verdict == found[0]
    assert found[1] in reason


def test_a_damper_warmed_too_far_is_told_and_the_figure_is_in_the_result(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("record", check="warm-leak", items=items(bench, "warm-leak", temperature=93.5, soak=45))
    assert outcome(bench, "warm-leak")[0] == "invalid"
    bench.do("record", check="warm-leak", items=items(bench, "warm-leak", temperature=93, soak=45))
    assert outcome(bench, "warm-leak")[0] == "good"
    check = assess(to_evidence(bench.state()), bench.files.method).checks.warm_leak
    assert check is not None
    by_item = {part.item: part for part in check.items}
    assert (by_item["temperature"].temperature_c, by_item["soak"].time_min) == (93, 45)
    assert by_item["joint"].text == "Joint dry"


def test_oil_is_no_leak_of_the_damper_and_is_cleaned_off_before_one_is_looked_for(bench: Workbench) -> None:
    bench.open()
    oily = [{**one, "seen": "bad"} if one["item"] == "oil" else one for one in items(bench, "visual")]
    bench.do("record", check="visual", items=oily)
    assert outcome(bench, "visual")[0] == "invalid"
    bench.do("record", check="visual", items=items(bench, "visual"))
    assert outcome(bench, "visual")[0] == "good"


@pytest.mark.parametrize(
    ("item", "found", "verdict"), [("bolts", "invalid", "measure-again"), ("hub", "bad", "replace")]
)
def test_a_loose_bolt_or_a_damper_that_moved_is_no_keep(
    bench: Workbench, item: str, found: str, verdict: str
) -> None:
    bench.open()
    seen = [{**one, "seen": "bad"} if one["item"] == item else one for one in items(bench, "visual")]
    bench.do("record", check="visual", items=seen)
    assert outcome(bench, "visual")[0] == found
    assert assess(to_evidence(bench.state()), bench.files.method).verdict == verdict
