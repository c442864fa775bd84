"""What is typed at practice: wrong input, one line each; exams; and that the same acts give the same."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Iterable
from pathlib import Path

import pytest

from ringtrue.practice.practising import Task
from ringtrue.practice.report import lines
from ringtrue.practice.score import marked
from tests.practice import workroom
from tests.practice.workroom import Room, practised

WRONG = {
    "dance": "there is no act 'dance': help lists them",
    "set": "set: rim or face",
    "set bonnet": "set: rim or face",
    "hold it": "hold takes no more words",
    "bar fast": "bar: a number, not 'fast'",
    "bar 0": "bar: 1 to 800 degrees at a time, or back as many",
    "bar nan": "bar: a number, not 'nan'",
    "bar to": "bar: a number, not 'to'",
    "bar 1 2 3": "bar: nothing for a turn, DEGREES, to ANGLE or back DEGREES",
    "wait": "wait: how many minutes? wait 20",
    "wait -5": "wait: a number of minutes up to 600",
    "warm 90": "the damper is on the engine: off takes it to the bench",
    "penetrant": "the damper is on the engine: off takes it to the bench",
    "fit": "fit: the damper is on the engine",
    "micrometer": "micrometer: the damper is on the engine: off takes it to the bench",
    "look faces": "faces is an item of visual-bench and of penetrant: put the check before it",
    "look penetrant rim": "penetrant: the damper is on the engine: off takes it to the bench",
    "look horn": "there is no item 'horn'; of visual there are oil, leak, dents, rubbing, wobble, paint, "
    "bolts, hub",
    "begin": "begin: rim or face or thickness",
    "begin horn": "begin: rim or face or thickness",
    "open everywhere": "open: both or on-engine or bench, or nothing for both",
    "close": "close: no inspection is open: open",
    "sign": "sign: who signs? sign R. Example",
    "result": "result: no inspection is open: open",
    "record": "record: [CHECK] ITEM good or bad, such as: record leak bad; record soak good 60",
    "record leak": "record: [CHECK] ITEM good or bad, such as: record leak bad; record soak good 60",
    "record visual bad": "record: say which item is bad, one by one, such as: record leak bad",
    "record soak good long": "record: 'long' is no number: record soak good 60",
    "record 'leak good": "record: a quotation mark is not closed",
    "hint please": "hint, or hint fault",
    "end quickly": "end: 'quickly' is not understood; arguments are KEY=VALUE",
}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """What each wrong line is answered with."""
    room = practised(tmp_path_factory.mktemp("wrong") / "room", Task(1, "none"), WRONG)
    assert len(room.answers) == len(WRONG) + 1
    return dict(zip(WRONG, room.answers, strict=False))


@pytest.mark.parametrize("line", WRONG)
def test_wrong_input_is_one_line_that_says_what_to_do(line: str, told: dict[str, list[str]]) -> None:
    assert told[line] == [WRONG[line]]


@pytest.mark.slow
def test_what_the_bay_refuses_is_told_in_its_own_words(tmp_path: Path) -> None:
    room = practised(tmp_path, Task(1, "none"), ["open", "begin rim", "begin rim", "close", "open"])
    again, close, anew = (answer[0] for answer in room.answers[2:5])
    assert again.startswith("begin: rim is running already")
    assert close.startswith("close: the rim sweep is running")
    assert anew.startswith("open: ")
    assert room.review is not None
    assert room.review.said == "incomplete"


@pytest.mark.slow
def test_an_exam_has_no_hints_and_tells_its_fault_only_at_the_end(tmp_path: Path) -> None:
    room = practised(tmp_path, Task(12, exam=12), ["hint", "hint fault", "help", "open", "result"])
    assert room.answers[0] == room.answers[1] == ["hint: an exam has none"]
    fault = room.practice.shop.specimen.fault
    assert not any(fault in line for line in room.said)
    assert not any("hint" in line for answer in room.answers[2:] for line in answer)
    assert room.review is not None
    said = lines(room.review)
    assert any(line.startswith(f"It was: {fault} (") for line in said)
    assert said[-1] == "exam 12: not passed"
    document = json.loads(json.dumps(room.review.as_data()))
    assert (document["schema"], document["exam"], document["fault"]) == ("ringtrue/practice/1", 12, fault)
    assert document["mark"]["is_passed"] is False


@pytest.mark.slow
def test_who_quits_is_told_nothing(tmp_path: Path) -> None:
    room = practised(tmp_path, Task(1, "none"), ["open", "quit", "open"])
    assert room.review is None
    assert len(room.answers) == 2


ACTS = [
    "lockout",
    "open",
    "set rim",
    "begin rim",
    "bar 90",
    "bar to 40",
    "off",
    "begin thickness",
    "micrometer 3",
]


def turned(room: Room) -> list[tuple[str, bytes]]:
    return [frame for frame, in_act in zip(room.sent, room.in_act, strict=True) if in_act]


@pytest.mark.slow
def test_the_same_acts_give_the_same_readings_however_long_one_thinks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = practised(tmp_path / "first", Task(5, "tilted"), ACTS)

    async def thinking(acts: Iterable[str]) -> AsyncIterator[str]:
        for act in acts:
            await asyncio.sleep(1.7)
            yield act

    monkeypatch.setattr(workroom, "_each", thinking)
    second = practised(tmp_path / "second", Task(5, "tilted"), ACTS)
    assert len(second.sent) > len(first.sent)
    assert turned(first) == turned(second)
    assert len(turned(first)) > 300
    monkeypatch.undo()
    other = practised(tmp_path / "other", Task(6, "tilted"), ACTS)
    assert turned(other) != turned(first)


@pytest.mark.parametrize(
    ("wanted", "said", "points", "passed"),
    [
        ("keep", "keep", 100, True),
        ("replace", "replace", 100, True),
        ("replace", "keep", 0, False),
        ("keep", "replace", 50, False),
        ("keep", "measure-again", 50, False),
        ("replace", "incomplete", 50, False),
    ],
)
def test_the_mark_by_its_rules(wanted: str, said: str, points: int, passed: bool) -> None:
    mark = marked(wanted, said, 1.0, 1.0, 0)
    assert (mark.points, mark.is_passed, bool(mark.failed_by)) == (points, passed, said != wanted)


def test_each_fault_of_procedure_takes_two_points_and_no_more_than_ten() -> None:
    assert marked("keep", "keep", 1.0, 1.0, 2).points == 96
    assert marked("keep", "keep", 1.0, 1.0, 9).points == 90
    assert marked("keep", "keep", 2 / 3, 0.5, 5).points == 50 + 13 + 10
    assert not marked("keep", "keep", 0.0, 0.5, 0).is_passed


def test_a_keep_without_all_checks_passes_no_exam() -> None:
    mark = marked("keep", "keep", 1.0, 1.0, 0, ("thickness", "penetrant"))
    assert (mark.points, mark.is_passed) == (100, False)
    assert mark.failed_by == "it was kept without thickness, penetrant"
    assert marked("replace", "replace", 1.0, 1.0, 0, ("thickness",)).is_passed
