from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.barring import NS_PER_S, BarringHand, Crank, Path, Pull


def bar(hand: BarringHand, seed: int = 1, start_deg: float = 0.0, turn_deg: float = 367.0) -> Path:
    return hand.bar(random.Random(seed), start_deg=start_deg, turn_deg=turn_deg, start_ns=0)


def standing(path: Path) -> list[tuple[float, float]]:
    """(angle, seconds) of each rest between two strokes."""
    pairs = zip(path.pulls, path.pulls[1:], strict=False)
    return [(one.to_deg, (two.start_ns - one.end_ns) / NS_PER_S) for one, two in pairs]


@given(seed=st.integers(min_value=0), start=st.floats(-400, 400), turn=st.floats(1, 800), back=st.booleans())
def test_the_hand_gets_there_without_a_jump(seed: int, start: float, turn: float, back: bool) -> None:
    path = bar(BarringHand(reverse=back), seed, start, turn)
    goal = start - turn if back else start + turn
    assert path.end_deg == pytest.approx(goal, abs=1e-5)
    assert path.angle_deg(-5) == pytest.approx(start)
    assert path.angle_deg(path.end_ns + NS_PER_S) == pytest.approx(goal, abs=1e-5)
    for one, two in zip(path.pulls, path.pulls[1:], strict=False):
        assert two.start_ns >= one.end_ns
        assert two.from_deg == pytest.approx(one.to_deg, abs=1e-9)


def test_the_same_seed_bars_alike_and_another_differs() -> None:
    assert bar(BarringHand(), 3) == bar(BarringHand(), 3)
    assert bar(BarringHand(), 3) != bar(BarringHand(), 4)


@pytest.mark.parametrize("reverse", [False, True])
def test_it_pauses_at_every_mark(reverse: bool) -> None:
    hand = BarringHand(marks_deg=(0.0, 120.0, 240.0), pause_s=2.0, rest_s=0.2, reverse=reverse)
    paused = {round(angle) % 360 for angle, seconds in standing(bar(hand)) if seconds > 1.0}
    assert paused == {0, 120, 240}


def test_it_backs_up_now_and_then_and_varies_its_pace() -> None:
    path = bar(BarringHand(back_share=0.5, back_deg=4.0), seed=2)
    backs = [pull for pull in path.pulls if pull.to_deg < pull.from_deg]
    assert backs
    assert all(3.0 <= pull.from_deg - pull.to_deg <= 5.0 for pull in backs)
    paces = [
        abs(pull.to_deg - pull.from_deg) / (pull.end_ns - pull.start_ns) * NS_PER_S for pull in path.pulls
    ]
    assert max(paces) / min(paces) > 1.1
    assert all(24.0 * 0.74 < pace < 24.0 * 1.26 for pace in paces)


def test_a_steady_hand_does_neither() -> None:
    path = bar(BarringHand(pace_varies=0.0, back_share=0.0, marks_deg=(), rest_s=0.0), turn_deg=360.0)
    assert [round(pull.to_deg - pull.from_deg) for pull in path.pulls] == [45] * 8
    assert path.end_ns == pytest.approx(360 / 24 * NS_PER_S)


def test_a_stroke_begins_and_ends_at_rest() -> None:
    pull = Pull(0, 1_000_000, 10.0, 20.0)
    assert pull.angle_deg(500_000) == pytest.approx(15.0)
    assert pull.angle_deg(1_000) - 10.0 < 1e-4
    assert pull.angle_deg(2_000_000) == 20.0


def test_paths_join_only_where_they_meet() -> None:
    first = bar(BarringHand())
    later = BarringHand().bar(
        random.Random(2), start_deg=first.end_deg, turn_deg=10.0, start_ns=first.end_ns + 5
    )
    joined = first.then(later)
    assert joined.angle_deg(first.end_ns + 2) == pytest.approx(367.0)
    assert joined.end_deg == pytest.approx(377.0)
    with pytest.raises(ValueError, match="begin where"):
        later.then(first)


def test_the_crank_stands_until_it_is_barred_and_does_not_jump() -> None:
    crank = Crank(30.0)
    assert crank.angle_deg(10**12) == 30.0
    path = BarringHand().bar(random.Random(1), start_deg=30.0, turn_deg=90.0, start_ns=1_000)
    crank.follow(path)
    assert crank.angle_deg(0) == 30.0
    assert crank.angle_deg(path.end_ns) == pytest.approx(120.0)
    with pytest.raises(ValueError, match="where the crank stands"):
        crank.follow(bar(BarringHand(), start_deg=31.0))


def test_impossible_paths_are_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        bar(BarringHand(), turn_deg=0.0)
    with pytest.raises(ValueError, match="at least one"):
        Path(())


def test_a_path_tells_when_the_crank_first_stands_at_each_mark() -> None:
    path = Path(
        (
            Pull(0, 10, 0.0, 100.0),
            Pull(20, 30, 100.0, 120.0),
            Pull(40, 50, 120.0, 110.0),
            Pull(60, 70, 110.0, 120.0),
            Pull(80, 90, 120.0, 360.0),
        )
    )
    assert path.stops((0.0, 120.0, 240.0)) == [(30, 120.0), (90, 360.0)]


def test_a_hand_stops_at_every_mark_of_its_way() -> None:
    path = BarringHand().bar(random.Random(3), start_deg=-2.0, turn_deg=362.0, start_ns=0)
    assert [angle for _, angle in path.stops((0.0, 120.0, 240.0))] == pytest.approx([0, 120, 240, 360])
