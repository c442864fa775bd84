"""What a bay asks before it does it: a mark pressed twice, a signature under what is no keep, items."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.bay.verdict import result_of
from acquire.journal.events import Mark
from acquire.judging import Judging
from contract.document import encode
from contract.units import Unit
from grading.assess import assess
from tests.acquire.workbench import ENCODER, INDICATOR, Workbench

Make = Callable[..., Workbench]
VISUAL = ("oil", "leak", "dents", "rubbing", "wobble", "paint", "bolts", "hub")
GOOD = [{"item": i, "seen": "good"} for i in VISUAL]


@pytest.fixture
def marked(make: Make) -> Workbench:
    """A rim sweep with marks, the crank at the first of them."""
    bench = make("marks")
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("mark")
    return bench


def read(bench: Workbench, *values: int) -> None:
    for value in values:
        bench.wait(0.1)
        bench.read(INDICATOR, value)


def marks(bench: Workbench) -> list[int]:
    return [e.angle_udeg // 1_000_000 for e in bench.journal_events() if isinstance(e, Mark)]


def test_a_mark_pressed_twice_within_a_second_is_asked_about(marked: Workbench) -> None:
    marked.wait(0.4)
    reply = marked.send("mark")
    assert reply["error"]["code"] == "pressed-twice"
    assert "0.4 s after the mark at 0 degrees" in reply["error"]["message"]
    assert "sure=true" in reply["error"]["message"]
    assert marks(marked) == [0]
    assert marked.do("mark", sure=True)["angle_deg"] == 120
    assert marked.do("mark", angle_deg=240)["angle_deg"] == 240


def test_five_presses_on_a_standing_crank_are_no_turn(marked: Workbench) -> None:
    for _ in range(5):
        read(marked, *[500_000, 501_000] * 10)
        assert marked.refused("mark") == "pressed-twice"
    assert marks(marked) == [0]
    assert marked.bay.is_sweeping
    assert "stood still since the mark at 0 degrees" in marked.send("mark")["error"]["message"]


def test_noise_is_no_movement(marked: Workbench) -> None:
    read(marked, *[500_000 + 3_000 * (n * 7 % 5) for n in range(60)])
    assert marked.refused("mark") == "pressed-twice"


def test_two_places_of_the_same_height_are_no_question(marked: Workbench) -> None:
    """What counts is that the readings moved in between, not where they end."""
    read(marked, *[500_000] * 30, *range(500_000, 560_000, 5_000), *range(560_000, 500_000, -5_000))
    assert marked.do("mark")["angle_deg"] == 120


def test_after_an_answer_stillness_counts_from_there(marked: Workbench) -> None:
    read(marked, *[500_000] * 20)
    marked.do("mark", sure=True)
    read(marked, *[500_000] * 20)
    assert "since the mark at 120 degrees" in marked.send("mark")["error"]["message"]
    read(marked, *range(500_000, 600_000, 5_000))
    assert marked.do("mark")["angle_deg"] == 240


def test_without_readings_between_only_time_is_asked_about(marked: Workbench) -> None:
    marked.wait(1.0)
    assert marked.do("mark")["angle_deg"] == 120


def test_marks_that_lie_close_may_stand_still_for_a_while(make: Make) -> None:
    """At a crest a good rim hardly moves over 30 degrees; over 90 it does."""
    bench = make("marks")
    rules = bench.files.method.marks.model_copy(update={"least_turn_deg": 180.0})
    bench.files.method.__dict__["marks"] = rules
    bench.restart()
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.do("mark")
    read(bench, *[500_000] * 20)
    assert bench.do("mark")["angle_deg"] == 120
    read(bench, *[500_000] * 20)
    assert bench.refused("mark") == "pressed-twice"


def test_a_mark_that_the_encoder_contradicts_is_said(bench: Workbench) -> None:
    bench.read(ENCODER, 0, Unit.UDEG)
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 2)
    assert "warning" not in bench.do("mark", angle_deg=0)
    bench.bar(2, 122)
    assert "warning" not in bench.do("mark", angle_deg=120)
    bench.bar(122, 182)
    assert "60 degrees off" in bench.do("mark", angle_deg=240)["warning"]


def test_closing_says_the_verdict_and_what_is_missing(bench: Workbench) -> None:
    name = bench.open()
    bench.do("record", check="visual", items=GOOD)
    bench.flush()
    reply = bench.do("close", inspection=name)
    assert reply["verdict"] == "incomplete"
    assert reply["missing"] == ["rim", "face"]
    assert reply["summary"] == "closed: verdict incomplete; missing: rim, face"


def test_closing_says_what_else_keeps_it_from_keep(bench: Workbench) -> None:
    name = bench.open(scope="bench")
    bench.do("record", check="visual-bench", items=[{"item": "rim", "seen": "bad"}])
    bench.flush()
    reply = bench.do("close", inspection=name)
    assert reply["verdict"] == "replace"
    assert reply["summary"] == (
        "closed: verdict replace (visual-bench bad); missing: thickness, penetrant, warm-leak"
    )


def test_closing_says_keep_where_nothing_is_missing(bench: Workbench) -> None:
    name = bench.open()
    bench.flush()
    graded = assess(to_evidence(bench.state()), bench.files.method)
    checks = graded.checks.model_copy(update={"visual": None, "rim": None, "face": None})
    kept = encode(graded.model_copy(update={"verdict": "keep", "checks": checks}))
    bench.journal.put_result(name, bench.state().revision, kept, "2026-03-02T06:00:00.000Z")
    bench.flush()
    reply = bench.do("close", inspection=name)
    assert (reply["verdict"], reply["missing"]) == ("keep", [])
    assert reply["summary"] == "closed: verdict keep"


def test_what_is_not_written_yet_is_closed_without_a_verdict_but_not_without_what_is_missing(
    bench: Workbench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An older revision's result says nothing of what was recorded since."""
    name = bench.open()
    bench.flush()
    before = bench.journal.read(name)
    bench.do("record", check="visual", items=GOOD)
    monkeypatch.setattr(bench.journal, "read", lambda *_, **__: before)
    reply = bench.do("close", inspection=name)
    assert "verdict" not in reply
    assert reply["missing"] == ["rim", "face"]
    assert reply["summary"] == "closed: the verdict is not graded yet, see the result; missing: rim, face"


def test_to_sign_what_is_no_keep_is_asked_once(bench: Workbench) -> None:
    name = bench.open()
    bench.do("record", check="visual", items=GOOD)
    bench.do("close", inspection=name)
    bench.flush()
    reply = bench.send("sign", inspection=name, name="R. Example")
    assert reply["error"]["code"] == "ask-once"
    assert "incomplete (rim missing, face missing)" in reply["error"]["message"]
    assert bench.state().state == "closed"
    bench.do("sign", inspection=name, name="R. Example", sure=True)
    assert bench.state().state == "signed"


def test_what_is_kept_of_the_result_is_what_is_asked_about(bench: Workbench) -> None:
    """The stored result decides; that of the revision before closing says the same."""
    name = bench.open(scope="bench")
    bad = [{"item": "rim", "seen": "bad"}]
    bench.do("record", check="visual-bench", items=bad)
    bench.do("close", inspection=name)
    bench.flush()
    assert "replace (visual-bench bad" in bench.send("sign", inspection=name, name="R.")["error"]["message"]
    # To give it up would hide nothing: who wants to is asked.
    asked = bench.send("abandon", inspection=name)["error"]
    assert asked["code"] == "ask-once"
    assert f"{name} was closed with replace, and due goes by that" in asked["message"]
    assert bench.state().state == "closed"
    bench.do("abandon", inspection=name, sure=True)
    given_up = bench.state()
    assert given_up.state == "abandoned"
    kept = assess(to_evidence(given_up), bench.files.method)
    assert (kept.verdict, kept.closed is not None) == ("replace", True)


def test_items_are_the_methods_and_each_once(bench: Workbench) -> None:
    bench.open()
    reply = bench.send("record", check="visual", items=[{"item": "leek", "seen": "good"}])
    assert reply["error"]["code"] == "malformed"
    assert "'leek': no item of visual; these are: oil, leak, dents, rubbing" in reply["error"]["message"]
    both = [{"item": "leak", "seen": "bad"}, {"item": "leak", "seen": "good"}]
    reply = bench.send("record", check="visual", items=both)
    assert "leak is bad and good in one message" in reply["error"]["message"]
    bench.do("record", check="visual", items=[{"item": "leak", "seen": "good"}] * 2)


def test_an_item_has_one_figure_in_a_message(bench: Workbench) -> None:
    bench.open(scope="bench")
    dwells = [{"item": "penetrant-dwell", "seen": "good", "time_min": time_min} for time_min in (4, 20)]
    reply = bench.send("record", check="penetrant", items=dwells)
    assert (
        "penetrant-dwell has two figures in one message; record each item once" in reply["error"]["message"]
    )
    bench.do("record", check="penetrant", items=[dwells[1]] * 2)


def test_a_keep_is_signed_without_a_question(bench: Workbench) -> None:
    """The stored result of the revision before closing is enough: closing changes no check."""
    name = bench.open()
    bench.do("record", check="visual", items=GOOD)
    graded = assess(to_evidence(bench.state()), bench.files.method)
    document = encode(graded.model_copy(update={"verdict": "keep"}))
    bench.journal.put_result(name, bench.state().revision, document, "2026-03-02T06:00:00.000Z")
    bench.do("close", inspection=name)
    bench.flush()
    bench.do("sign", inspection=name, name="R. Example")


def test_what_is_not_written_yet_is_not_signed(bench: Workbench) -> None:
    name = bench.open()
    bench.flush()
    events = bench.journal.read(name)
    state = fold(events)
    state.revision += 5
    assert result_of(bench.journal, state, Judging()) is None
