from __future__ import annotations

import pytest

from contract.pauses import Pauses, pause_s


@pytest.mark.parametrize(("number", "expected_s"), [(-1, 0.5), (0, 0.5), (1, 1.0), (3, 4.0), (4, 5.0)])
def test_each_pause_is_twice_the_one_before_up_to_the_longest(number: int, expected_s: float) -> None:
    assert pause_s(number, 0.5, 5.0) == expected_s


def test_however_often_it_failed_there_is_a_pause() -> None:
    assert pause_s(100_000, 0.5, 5.0) == 5.0


def test_a_success_begins_anew() -> None:
    pauses = Pauses(0.1, 1.0)
    assert [pauses.next_s() for _ in range(6)] == [0.1, 0.2, 0.4, 0.8, 1.0, 1.0]
    pauses.anew()
    assert pauses.next_s() == 0.1
