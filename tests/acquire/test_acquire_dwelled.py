"""Dwells: start and end are pressed, the stops between found; what is not sure is asked, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from acquire.angle.matching import Matching, Stop, match
from acquire.angle.tagger import tag_sweep
from acquire.bay.evidence import to_evidence
from contract.kinds import KINDS
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
    assert {found.stop[0], found.other[0]} == {0, 1}


def test_what_a_person_says_settles_it() -> None:
    found = matched(stops((112, 30), (128, 30), (240, 40)), {0: 1})
    assert found.stop == (1, 2)
    assert found.doubtful is None


def test_no_stops_leave_the_marks_open() -> None:
    assert matched([]).stop == (None, None)


Make = Callable[[], Workbench]


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
    assert "rim" in KINDS
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
    tagged = tag_sweep([bench.state().finished[-1].begun, *bench.state().finished[-1].events])  # type: ignore[union-attr]
    np.testing.assert_array_equal(tagged.angle_deg, sweep.angle_deg)


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
