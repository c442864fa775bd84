"""What a display needs to lead a person: where angles come from, the next mark, figures that are asked for,
and cautions that stay while a check by eye is not whole."""

from __future__ import annotations

from config.cautions import USUAL
from contract.live import Live
from tests.acquire.conftest import Make
from tests.acquire.workbench import INDICATOR, Workbench


def live(bench: Workbench) -> Live:
    said = bench.bay.live()
    assert said is not None
    return said


def test_a_sweep_by_marks_tells_the_next_one_until_a_restart_forgets_it(make: Make) -> None:
    bench = make("marks")
    bench.open()
    assert (live(bench).angle_source, live(bench).next_mark_deg) == (None, None)
    bench.do("begin", check="rim", gauge=INDICATOR)
    assert (live(bench).angle_source, live(bench).next_mark_deg) == ("marks", 0)
    bench.do("mark")
    assert live(bench).next_mark_deg == 120
    bench.restart()
    assert (live(bench).angle_source, live(bench).next_mark_deg) == ("marks", None)
    bench.do("mark", angle_deg=240)
    assert live(bench).next_mark_deg == 360


def test_where_angles_come_from_is_told_of_a_turn_alone(bench: Workbench) -> None:
    bench.open(scope="both")
    for check, gauge, source in (
        ("rim", INDICATOR, "encoder"),
        ("face", "typed", "typed"),
        ("thickness", "typed", None),
    ):
        bench.do("begin", check=check, gauge=gauge)
        assert (live(bench).angle_source, live(bench).next_mark_deg, live(bench).asked) == (source, None, ())
        bench.do("cancel")


def test_items_that_are_recorded_with_a_figure_are_told_while_nothing_runs(bench: Workbench) -> None:
    bench.open(scope="bench")
    told = {(one.check, one.item): (one.figure, one.least, one.most) for one in live(bench).asked}
    rules = bench.files.method.observed
    assert told == {
        (check, rule.id): (rule.figure, rule.least, rule.most)
        for check in ("penetrant", "warm-leak")
        for rule in rules[check].item
        if rule.figure is not None
    }
    assert len(told) == 5
    bench.do("abandon", inspection=bench.bay.latest)
    bench.open("truck-15")
    assert live(bench).asked == ()


def test_cautions_of_a_check_by_eye_stay_until_each_item_was_seen_and_come_back_with_it(
    bench: Workbench,
) -> None:
    bench.open()
    everything = (*USUAL["on-engine"], *USUAL["rim"], *USUAL["visual"])
    items = [rule.id for rule in bench.files.method.observed["visual"].item]
    for item in items[:-1]:
        bench.do("record", check="visual", items=[{"item": item, "seen": "good"}])
        assert live(bench).cautions == everything
    bench.do("record", check="visual", items=[{"item": items[-1], "seen": "not seen"}])
    assert live(bench).cautions == everything
    bench.do("record", check="visual", items=[{"item": items[-1], "seen": "bad"}])
    assert live(bench).cautions == (*USUAL["on-engine"], *USUAL["rim"])
    bench.do("record", check="visual", items=[{"item": "bolts", "seen": "bad"}])  # all of it again
    assert live(bench).cautions == everything
