"""Dwells that are timed by the bay, pictures of what was seen, and a signer's own decision."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from typing import Any

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.looking import PHOTOS_MAX
from acquire.journal.events import PhotoTaken
from config.method import Method
from contract.result import ObservedCheck, Result
from grading.assess import assess
from tests.acquire.workbench import Workbench

DWELL = {"check": "penetrant", "item": "penetrant-dwell"}
OTHERS = ("cleaned", "developer-dwell", "flange", "rim", "faces", "edge")


def graded(bench: Workbench) -> Result:
    state = bench.state()
    return assess(to_evidence(state), Method.model_validate(state.opened.method))


def recorded(bench: Workbench, **figures: Any) -> dict[str, Any]:
    seen = [{"item": "penetrant-dwell", "seen": "good", **figures}]
    return bench.send("record", check="penetrant", items=seen)


def seen_of(bench: Workbench, item: str = "penetrant-dwell") -> Any:
    check = graded(bench).checks.penetrant
    assert check is not None
    return next(one for one in check.items if one.item == item)


def test_a_dwell_is_timed_and_recorded_without_its_minutes(bench: Workbench) -> None:
    bench.open(scope="bench")
    begun = bench.do("time", **DWELL)
    assert (begun["least_min"], begun["most_min"]) == (5, 60)
    bench.wait(6.5 * 60)
    live = bench.bay.live()
    assert live is not None
    (timer,) = live.timers
    assert (timer.item, timer.elapsed_s, timer.ended, timer.least_min) == ("penetrant-dwell", 390, False, 5)
    assert timer.text.startswith("Penetrant left its full time")
    assert bench.do("time", **DWELL, stop=True)["time_min"] == 6.5
    bench.wait(1_000)
    assert recorded(bench)["time_min"] == {"penetrant-dwell": 6.5}
    assert (seen_of(bench).seen, seen_of(bench).time_min) == ("good", 6.5)
    live = bench.bay.live()
    assert live is not None
    assert live.timers == ()


@pytest.mark.parametrize(("seconds", "outcome"), [(299.9, "invalid"), (300.0, "missing"), (3601, "invalid")])
def test_too_short_or_too_long_a_dwell_is_invalid_and_never_rounded_up(
    bench: Workbench, seconds: float, outcome: str
) -> None:
    bench.open(scope="bench")
    bench.do("time", **DWELL)
    bench.wait(seconds)
    assert recorded(bench)["ok"]
    check = graded(bench).checks.penetrant
    assert isinstance(check, ObservedCheck)
    assert check.outcome == outcome  # missing: the other items were not looked at


def test_a_second_press_does_not_begin_it_anew(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("time", **DWELL)
    bench.wait(240)
    again = bench.send("time", **DWELL)
    assert again["error"]["code"] == "out-of-order"
    assert "runs already, for 4 min" in again["error"]["message"]
    bench.wait(120)
    assert recorded(bench)["time_min"] == {"penetrant-dwell": 6}


@pytest.mark.parametrize(("boots", "minutes"), [(False, 6.66), (True, 6.78)])  # booting takes 7 s
def test_it_goes_on_over_a_restart_and_says_so(bench: Workbench, boots: bool, minutes: float) -> None:
    bench.wait(600)
    bench.open(scope="bench")
    bench.do("time", **DWELL)
    bench.wait(200)
    bench.flush()
    bench.restart(now_ns=7_000_000_000 if boots else None)
    bench.wait(200)
    assert recorded(bench)["time_min"] == {"penetrant-dwell": minutes}
    assert seen_of(bench).note == "timed across a restart, by the wall clock"


@pytest.mark.parametrize(("step_s", "minutes"), [(3_600, 6.66), (-100, 5.0)])
def test_a_clock_that_was_set_over_a_restart_makes_no_dwell_longer(
    bench: Workbench, step_s: float, minutes: float
) -> None:
    bench.open(scope="bench")
    bench.do("time", **DWELL)
    bench.wait(200)
    bench.flush()
    bench.clock.epoch += timedelta(seconds=step_s)
    bench.restart()
    bench.wait(200)
    assert recorded(bench)["time_min"] == {"penetrant-dwell": minutes}


def test_minutes_that_are_told_count_before_those_timed(bench: Workbench) -> None:
    bench.open(scope="bench")
    bench.do("time", **DWELL)
    bench.wait(60)
    assert "time_min" not in recorded(bench, time_min=12)
    assert (seen_of(bench).time_min, seen_of(bench).note) == (12, "the bay timed 1 min")


def test_what_is_not_timed_is_refused_with_what_can_be(bench: Workbench) -> None:
    bench.open(scope="bench")
    for arguments, words in (
        (
            {"check": "penetrant", "item": "rim"},
            "asks no time; in penetrant penetrant-dwell, developer-dwell do",
        ),
        ({"check": "penetrant", "item": "dwell"}, "no item of penetrant; these are: cleaned,"),
        ({"check": "visual", "item": "leak"}, "in visual no item do"),
        ({**DWELL, "stop": True}, "is not being timed; begin it without stop"),
    ):
        assert words.removesuffix(" do") in bench.send("time", **arguments)["error"]["message"]
    said = recorded(bench)["error"]["message"]
    assert "needs its time in minutes" in said
    assert "or time it with the command time" in said


def test_a_picture_is_of_its_item_and_judges_nothing(bench: Workbench) -> None:
    name = bench.open(scope="bench")
    folder = bench.files.settings.photos.folder
    file = sha256(b"pixels").hexdigest() + ".jpg"
    picture = {"check": "penetrant", "item": "rim", "file": file, "note": "at 4 o'clock"}
    assert bench.send("photo", **picture)["error"]["code"] == "no-such-photo"
    folder.mkdir(parents=True)
    (folder / file).write_bytes(b"pixels")
    assert bench.do("photo", **picture)["photos"] == 1
    check = graded(bench).checks.penetrant
    assert isinstance(check, ObservedCheck)
    assert check.outcome == "missing"
    (shown,) = seen_of(bench, "rim").photos
    assert (shown.file, shown.note) == (file, "at 4 o'clock")
    for path in ("../journal.db", "a.jpg", file.upper()):
        assert bench.send("photo", **picture | {"file": path})["error"]["code"] == "malformed"
    for _ in range(PHOTOS_MAX - 1):
        bench.do("photo", **picture)
    assert "as many as a result can name" in bench.send("photo", **picture)["error"]["message"]
    bench.flush()
    bench.restart()
    assert len(bench.state(name).photos) == PHOTOS_MAX
    assert isinstance(bench.state(name).photos[0], PhotoTaken)


def test_a_picture_between_two_passes_leaves_a_spoilt_one_spoilt(bench: Workbench) -> None:
    bench.open(scope="bench")
    good: list[dict[str, Any]] = [
        {"item": item, "seen": "good"} for item in OTHERS if item != "developer-dwell"
    ]
    good += [{"item": "developer-dwell", "seen": "good", "time_min": 12}]
    good += [{"item": "temperature", "seen": "good", "temperature_c": 20}]
    good += [{"item": "penetrant-dwell", "seen": "good", "time_min": 1}]
    bench.do("record", check="penetrant", items=good)
    folder = bench.files.settings.photos.folder
    folder.mkdir(parents=True)
    file = sha256(b"x").hexdigest() + ".jpg"
    (folder / file).write_bytes(b"x")
    picture = {"check": "penetrant", "item": "rim", "file": file}
    other = bench.send("photo", inspection="truck-13", **picture)["error"]
    assert other["code"] == "out-of-order"
    assert "it is of truck-13, and truck-14 is open now" in other["message"]
    bench.do("photo", inspection="truck-14", **picture)
    check = graded(bench).checks.penetrant
    assert isinstance(check, ObservedCheck)
    assert check.outcome == "invalid"


def test_a_signer_who_decides_otherwise_says_why_and_is_asked_once(bench: Workbench) -> None:
    name = bench.open(scope="bench")
    bench.do("close", inspection=name)
    bench.flush()
    own = {"inspection": name, "name": "R. Example", "decision": "keep"}
    assert "say why in remark" in bench.send("sign", **own)["error"]["message"]
    asked = bench.send("sign", **own, remark="measured by hand, all within")["error"]
    assert asked["code"] == "ask-once"
    assert "with your decision keep beside it" in asked["message"]
    bench.do("sign", **own, remark="measured by hand, all within", sure=True)
    result = graded(bench)
    assert (result.verdict, result.decision, result.next_due) == ("incomplete", "keep", None)
    assert result.remark == "measured by hand, all within"


def test_a_decision_that_is_the_verdict_is_none_of_its_own(bench: Workbench) -> None:
    name = bench.open(scope="bench")
    bench.do("record", check="visual-bench", items=[{"item": "rim", "seen": "bad"}])
    bench.do("close", inspection=name)
    bench.flush()
    bench.do("sign", inspection=name, name="R. Example", decision="replace", sure=True)
    assert (graded(bench).verdict, graded(bench).decision) == ("replace", None)


def test_an_open_inspection_keeps_the_method_it_was_opened_with(bench: Workbench) -> None:
    bench.open()
    bench.flush()
    bench.journal.close()
    rim = bench.files.method.rim.model_copy(update={"limit_mm": 0.5})
    changed = bench.files.method.model_copy(update={"rim": rim})
    bench.files = replace(bench.files, method=changed)
    bench.start()
    bench.do("begin", check="rim", gauge="indicator-1")
    live = bench.bay.live()
    assert live is not None
    assert live.limit_mm == 0.28
