"""Dwells: start and end are pressed, the stops between found; what is not sure is asked, never guessed."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from acquire.angle.matching import (
    LENGTH_S,
    LENGTH_WORTH,
    LESS_KNOWN,
    UNSEEN_WORTH,
    Matching,
    Stop,
    match,
)
from acquire.angle.tagger import tag_sweep
from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import Take
from acquire.journal.events import Stopped
from grading.assess import judge
from grading.evidence import Sweep
from tests.acquire.turns import Turn, turn
from tests.acquire.workbench import INDICATOR, Workbench
from tests.grading.samples import EXAMPLE

MARKS = np.array([120.0, 240.0])


def stops(*each: tuple[float, float]) -> list[Stop]:
    """(degrees, seconds) each, a stroke's time apart."""
    found, now = [], 0.0
    for deg, lasted in each:
        now += 2.0
        found.append(Stop(now, now + lasted, deg, 0.7 * deg))
        now += lasted
    return found


def matched(found: Sequence[Stop], told: dict[int, int] | None = None) -> Matching:
    return match(found, MARKS, 360.0, 0.7 * 360.0, 360.0, told or {})


def test_long_stops_at_the_right_places_are_the_marks() -> None:
    found = matched(stops((35, 1), (75, 1), (120, 40), (160, 1), (200, 1), (240, 60), (300, 1)))
    assert found.stop == (2, 5)
    assert found.doubtful is None


def test_an_extra_long_stop_elsewhere_does_not_count() -> None:
    found = matched(stops((60, 300), (120, 40), (180, 200), (240, 60), (300, 90)))
    assert found.stop == (1, 3)
    assert found.doubtful is None


def test_the_number_of_stops_decides_nothing() -> None:
    """Two stops and two marks, but neither stop lies at the second."""
    found = matched(stops((60, 1), (120, 40)))
    assert found.stop[0] == 1
    assert found.stop[1] is None or found.doubtful == 1


def test_two_that_may_be_it_are_asked_about() -> None:
    found = matched(stops((112, 30), (128, 30), (240, 40)))
    assert found.doubtful == 0
    assert found.likely[0] == (0, 1)


def test_what_a_person_says_settles_it() -> None:
    found = matched(stops((112, 30), (128, 30), (240, 40)), {0: 1})
    assert found.stop == (1, 2)
    assert found.doubtful is None


def test_no_stops_leave_the_marks_open() -> None:
    assert matched([]).stop == (None, None)


def brute(found: Sequence[Stop]) -> dict[int, dict[int | None, float]]:
    """All ways to give each mark a stop, or none, one by one."""
    place, way = [0.0, *MARKS, 360.0], [0.0, *(s.deg for s in found), 360.0]
    walk = [0.0, *(s.variance for s in found), 0.7 * 360.0]
    length = np.log([max(s.lasted_s, 0.1) for s in found])
    worth = np.interp(length, np.log(LENGTH_S), LENGTH_WORTH)
    chance: dict[int, dict[int | None, float]] = {0: {}, 1: {}}
    for one in (None, *range(len(found))):
        for two in (None, *range(len(found))):
            if one is not None and two is not None and two <= one:
                continue
            steps = [(0, 0), *((m + 1, s + 1) for m, s in ((0, one), (1, two)) if s is not None)]
            weight = UNSEEN_WORTH * (2 - len(steps) + 1) + sum(worth[s - 1] for _, s in steps[1:])
            for (m0, s0), (m1, s1) in itertools.pairwise([*steps, (3, len(found) + 1)]):
                variance = max(LESS_KNOWN * (walk[s1] - walk[s0]), 4.0)
                told = norm(place[m1] - place[m0], variance**0.5)
                weight += float(told.logpdf(way[s1] - way[s0]))
            for mark, stop in ((0, one), (1, two)):
                chance[mark][stop] = chance[mark].get(stop, 0.0) + float(np.exp(weight))
    return chance


def test_sums_over_all_ways_are_those_of_one_by_one() -> None:
    """Against scipy's normal density, over every single matching."""
    some = stops((40, 2), (105, 30), (128, 5), (190, 1), (236, 4), (300, 50))
    found, ways = matched(some), brute(some)
    for mark in (0, 1):
        whole = sum(ways[mark].values())
        best = max(ways[mark], key=ways[mark].__getitem__)
        assert found.stop[mark] == best
        assert found.sure[mark] == pytest.approx(ways[mark][best] / whole, rel=1e-9)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Workbench]:
    bench = Workbench(tmp_path, "dwells")
    yield bench
    bench.close()


@pytest.fixture(scope="module")
def drawn() -> Turn:
    return turn(np.random.default_rng(12), (0.0, 120.0, 240.0), 0.001, 5, 0.2)


def barred(bench: Workbench, drawn: Turn) -> Sweep:
    """The turn as the bay reads it, the first and the last mark pressed."""
    began = bench.clock.now_ns
    start, end = drawn.presses[0][0], drawn.presses[-1][0]
    pressed = 0
    for at, value in zip(drawn.times_ns.tolist(), drawn.value_nm.tolist(), strict=True):
        if pressed < 2 and at >= (start, end)[pressed]:
            bench.clock.now_ns = began + (start, end)[pressed]
            bench.do("mark")
            pressed += 1
        bench.clock.now_ns = began + at
        if bench.bay.is_sweeping:
            bench.read(INDICATOR, value)
    return sweep_of(bench)


def sweep_of(bench: Workbench) -> Sweep:
    found = to_evidence(bench.state()).attempts["rim"][-1]
    assert isinstance(found, Sweep)
    return found


def test_the_bay_asks_and_the_answer_makes_the_angles(bench: Workbench, drawn: Turn) -> None:
    """The whole way: two presses, a question, its answers, angles that are as good as with presses."""
    bench.open()
    assert bench.do("begin", check="rim", gauge=INDICATOR)["next_mark_deg"] == 0
    sweep = barred(bench, drawn)
    first = drawn.presses[0][0]
    for before, after, mark in drawn.stops[1:-1]:
        if sweep.question is None:
            break
        asked = judge("rim", [sweep], EXAMPLE)
        assert asked.outcome == "invalid"
        assert "which stop was at" in asked.reason
        assert sweep.angle_deg.size == 0
        bench.do("mark", angle_deg=mark, at_s=round(((before + after) / 2 - first) / 1e9, 1))
        sweep = sweep_of(bench)
    assert sweep.question is None
    times = sweep.time_s * 1e9 + first
    true = np.interp(times, drawn.times_ns, drawn.true_deg)
    assert float(np.sqrt(np.mean((sweep.angle_deg - true) ** 2))) < 15
    assert np.mean(np.abs(sweep.angle_deg - true) <= 2 * sweep.angle_u_deg) > 0.8


def test_a_question_is_answered_after_another_check_too(bench: Workbench, drawn: Turn) -> None:
    """And not while one runs: that one's stops are not known yet."""
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    asked = barred(bench, drawn).question
    assert asked is not None
    answer = {"angle_deg": asked.mark_deg, "at_s": asked.stops[0][0]}
    bench.do("begin", check="face", gauge=INDICATOR)
    assert bench.refused("mark", **answer) == "out-of-order"
    for _ in range(20):
        bench.wait(0.5)
        bench.read(INDICATOR, 1_000)
    bench.do("end")
    assert bench.refused("mark", **answer, check="face") == "out-of-order"  # nothing was pressed in it
    assert bench.do("mark", **answer, check="rim")["check"] == "rim"
    after = sweep_of(bench).question
    assert after is None or after.mark_deg != asked.mark_deg
    bench.flush()
    bench.restart()
    assert sweep_of(bench).question == after


def test_an_answer_of_a_stop_or_a_mark_that_is_none_is_refused(bench: Workbench, drawn: Turn) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    asked = barred(bench, drawn).question
    assert asked is not None
    for answer in (
        {"angle_deg": asked.mark_deg, "at_s": 999_999},
        {"angle_deg": 100, "at_s": asked.stops[0][0]},
    ):
        message = bench.send("mark", **answer)["error"]["message"]
        assert message.startswith("mark: there is no stop at")
        assert f"angle_deg={asked.mark_deg:g}" in message
    assert sweep_of(bench).question == asked


def test_an_answer_to_a_question_that_is_gone_is_refused(bench: Workbench, drawn: Turn) -> None:
    """Nor does the same answer count twice; it is no fault to give it again."""
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    question = barred(bench, drawn).question
    assert question is not None
    answer: dict[str, Any] = {}
    while question is not None:
        answer = {"angle_deg": question.mark_deg, "at_s": question.stops[0][0]}
        bench.do("mark", **answer)
        question = sweep_of(bench).question
    before = bench.state()
    assert bench.do("mark", **answer)["at_s"] == answer["at_s"]
    assert bench.state() == before
    assert bench.refused("mark", **answer | {"at_s": answer["at_s"] + 20}) == "out-of-order"
    message = bench.send("mark", angle_deg=answer["angle_deg"], at_s=1)["error"]["message"]
    assert message.startswith("mark: the sweep of the rim asks nothing about its stops any more")


def test_an_answer_of_no_stop_in_an_older_journal_is_told_by_the_question(
    bench: Workbench, drawn: Turn
) -> None:
    """They were taken once, and are graded as they were."""
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    asked = barred(bench, drawn).question
    assert asked is not None
    take = bench.state().finished[-1]
    assert isinstance(take, Take)
    said = Stopped(inspection="truck-14", time_ns=0, operator="R. Example", angle_udeg=100_000_000, at_ns=0)
    again = tag_sweep([take.begun, *take.events, said]).question
    assert again is not None
    assert again.said.startswith("there is no stop at")
    assert again.stops == asked.stops


def test_an_answer_that_nobody_asked_for_is_refused(bench: Workbench) -> None:
    bench.open()
    assert bench.refused("mark", angle_deg=120, at_s=5) == "out-of-order"


def test_a_start_pressed_twice_is_no_turn(bench: Workbench) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    assert bench.do("mark")["next_mark_deg"] == 360
    bench.wait(0.2)
    assert bench.refused("mark") == "pressed-twice"
    for _ in range(20):
        bench.wait(0.5)
        bench.read(INDICATOR, 1_000)
    assert bench.refused("mark") == "pressed-twice"
