"""The walk's pages by themselves: plain data in, plain data out."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from contract.live import Live, TimerPart
from contract.result import Result
from contract.states import GaugeStateMessage, reading_message
from contract.units import Unit
from display.walk.course import moved, page_of
from display.walk.page import EntryError, Send, needed, number_of
from display.walk.pages.beginning import begin
from display.walk.place import Place
from display.walk.view import Ended, View, next_check
from display.walk.words import NOT_ZEROED
from display.words import Text
from ringtrue.cli import main
from ringtrue.inspecting.big import big

CAUTIONS = ("Wheels chocked.", "Never lever.")
RESULT = Result.model_validate(
    {
        "inspection": "truck-14", "revision": 3, "state": "open", "site": "greywacke", "bay": "bay-2",
        "scope": "on-engine", "engine": {"serial": "GQ-E-2207"}, "damper": {"serial": "GQ-D-0815"},
        "opened": "2026-03-02T06:00:00Z", "method": {"id": "example", "version": "1", "sha256": "0"},
        "checks": {
            "visual": {"outcome": "good", "reason": "all 8 items seen and good"},
            "rim": {"outcome": "over", "reason": "over the limit", "limit_mm": 0.28, "true_tir_mm": 0.31},
            "face": {"outcome": "missing", "reason": "not done yet", "limit_mm": 0.28},
        },
        "verdict": "replace", "reasons": ["rim: over the limit"], "software": "test", "readings_sha256": "0",
    }
)  # fmt: skip
OPEN = View("greywacke/bay-2", live=Live(inspection="truck-14", cautions=CAUTIONS), result=RESULT)
MINE = Place(inspection="truck-14", read=frozenset(CAUTIONS))


def test_every_page_of_a_step_shows_all_of_its_cautions() -> None:
    for stage in ("", "list", "close", "begin"):
        for check in ("visual", "rim", "face", "lifts"):
            page = page_of(OPEN, replace(MINE, check=check, stage=stage), {})
            assert page.cautions == CAUTIONS, page.name


def test_new_cautions_stand_alone_until_they_are_read() -> None:
    for read in ((), CAUTIONS[:1]):
        page = page_of(OPEN, replace(MINE, check="face", read=frozenset(read)), {})
        assert (page.name, page.cautions, page.says) == ("cautions", CAUTIONS, ())
    more = replace(OPEN, live=Live(inspection="truck-14", cautions=(*CAUTIONS, "New.")))
    assert page_of(more, replace(MINE, check="face"), {}).name == "cautions"


def test_the_walk_begins_at_the_first_check_that_is_not_done_and_stays_there() -> None:
    at_rim = moved(OPEN, MINE)
    assert at_rim.check == "rim"
    assert page_of(OPEN, at_rim, {}).name == "outcome rim over"
    assert next_check(RESULT, "rim") == "face"
    assert next_check(RESULT, "face") is None
    assert moved(OPEN, replace(MINE, check="visual")).check == "visual"
    running = replace(OPEN, live=Live(inspection="truck-14", check="face"))
    assert moved(running, replace(MINE, check="visual", stage="list")) == replace(MINE, check="face")


def test_what_is_not_graded_yet_shows_no_outcome_of_before() -> None:
    ended = replace(OPEN, ended=Ended("rim", "complete", None, RESULT.revision))
    page = page_of(ended, replace(MINE, check="rim"), {})
    assert page.says[0] == "STOP: the rim run-out is taken."
    assert "OVER" not in " ".join(page.says)
    later = replace(ended, ended=Ended("rim", "complete", None, RESULT.revision - 1))
    assert page_of(later, replace(MINE, check="rim"), {}).name == "outcome rim over"
    late = page_of(replace(ended, ended_s=31.0), replace(MINE, check="rim"), {})
    assert late.name == "grading rim"
    assert "NOT WORKED OUT for 31 s" in late.says[1]
    dropped = replace(ended, ended=Ended("rim", "cancelled", "R. Example", RESULT.revision))
    assert page_of(dropped, replace(MINE, check="rim"), {}).name == "outcome rim over"


def test_enter_never_says_that_an_item_is_good_begins_or_closes() -> None:
    said = RESULT.model_dump(by_alias=True, exclude_none=True)
    unseen = [{"item": "leak", "seen": "not seen"}]
    said["checks"]["visual"] = {"outcome": "missing", "reason": "not looked at yet", "items": unseen}
    view = replace(OPEN, result=Result.model_validate(said))
    for place in (
        replace(MINE, check="visual"),
        replace(MINE, check="face"),
        replace(MINE, stage="close"),
    ):
        page = page_of(view, place, {})
        assert page.main is None, page.name
    assert page_of(view, replace(MINE, check="visual"), {}).chosen("g") is not None


def state(state: str, measures: str, sends: str, *, heard: bool = True) -> GaugeStateMessage:
    unit = Unit.UDEG if measures == "angle" else Unit.NM
    return GaugeStateMessage.model_validate(
        {
            "state": state, "reason": "unplugged", "since": "2026-03-02T06:00:00Z",
            "last": reading_message(1, 1, 1, unit) if heard else None, "measures": measures, "sends": sends,
        }
    )  # fmt: skip


@pytest.mark.parametrize(
    ("check", "offered"),
    [
        ("rim", ["begin, with indicator-1"]),
        ("thickness", ["begin, with micrometer-1"]),
        ("lifts", ["begin, with indicator-1", "begin, with micrometer-1"]),
    ],
)
def test_only_gauges_that_are_connected_and_fit_are_offered(check: str, offered: list[str]) -> None:
    gauges = {
        "encoder-1": state("connected", "angle", "free-running", heard=False),
        "indicator-1": state("connected", "length", "free-running"),
        "indicator-2": state("silent", "length", "requested"),
        "micrometer-1": state("connected", "length", "key-press", heard=False),
    }
    page = begin(replace(OPEN, gauges=gauges), MINE, check)
    assert [choice.label for choice in page.choices if choice.label.startswith("begin")] == offered
    assert any("indicator-2: silent (unplugged)" in row for row in page.rows) == (check != "thickness")


def test_a_dwell_counts_on_between_two_messages_and_stands_while_the_bay_is_away() -> None:
    timer = TimerPart(check="penetrant", item="penetrant-dwell", elapsed_s=60, least_min=5)
    view = replace(OPEN, live=Live(inspection="truck-14", timers=(timer,)), live_s=12.7)
    counted = view.timer("penetrant", "penetrant-dwell")
    assert counted is not None
    assert counted.elapsed_s == 72
    away = replace(view, away="gone").timer("penetrant", "penetrant-dwell")
    assert away is not None
    assert away.elapsed_s == 60


def test_a_number_may_have_a_comma_and_what_is_none_is_said() -> None:
    assert number_of({"x": "0,12"}, "x", Text("value")) == 0.12
    assert number_of({}, "x", Text("value")) is None
    for text in ("1.2.3", "--", "nan", "1e400", "9" * 400):
        with pytest.raises(EntryError, match=r"a number such as 0\.12, not"):
            number_of({"x": text}, "x", Text("value"))
    with pytest.raises(EntryError, match="value is needed"):
        needed({"x": ""}, "x", Text("value"))


def test_a_big_figure_is_what_it_says() -> None:
    narrow = big("-0.12:3", 40).splitlines()
    assert narrow == [
        "    █▀█     █ ▀▀█ ▄ ▀▀█",
        "▀▀▀ █ █     █ █▀▀ ▄ ▀▀█",
        "    ▀▀▀ ▀   ▀ ▀▀▀   ▀▀▀",
    ]
    wide = big("-0.12:3", 80).splitlines()
    assert [line[::2].rstrip() for line in wide] == narrow


def test_it_needs_a_terminal_and_loads_nothing_of_one_before_it_is_called(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["inspect", "--config", str(tmp_path / "none.toml")]) == 2
    assert "use ringtrue send and watch" in capsys.readouterr().err
    asked = "import sys; from ringtrue.cli import _parser; _parser([]); print('textual' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert told.stdout == "False\n"


def test_the_timing_mark_is_told_by_a_key_before_a_turn_and_in_it_and_the_page_says_while_it_is_not() -> None:
    untold = replace(OPEN, live=Live(inspection="truck-14", angle_zero="encoder"))
    page = begin(untold, MINE, "rim")
    choice = page.chosen("z")
    assert choice is not None
    assert choice.act({}) == Send("zero")
    assert NOT_ZEROED in page.rows
    assert begin(untold, MINE, "thickness").chosen("z") is None
    told = replace(OPEN, live=Live(inspection="truck-14", angle_zero="timing-mark"))
    assert NOT_ZEROED not in begin(told, MINE, "rim").rows
    assert begin(OPEN, MINE, "rim").chosen("z") is None  # without an encoder the marks tell
    turning = {"inspection": "truck-14", "check": "rim", "gauge": "indicator-1", "angle_source": "encoder"}
    gauges = {"indicator-1": state("connected", "length", "free-running")}
    in_turn = replace(OPEN, gauges=gauges, live=Live(**turning, angle_zero="encoder"))
    page = page_of(in_turn, replace(MINE, check="rim"), {})
    assert page.chosen("z") is not None
    assert NOT_ZEROED in page.says
    stops = replace(in_turn, live=Live(**turning, angle_zero="timing-mark", next_mark_deg=240.0))
    page = page_of(stops, replace(MINE, check="rim"), {})
    assert page.chosen("z") is None
    assert page.says[-1] == "Next stop at 240°."
