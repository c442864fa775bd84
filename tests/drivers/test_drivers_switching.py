"""A unit that is switched while a gauge is read: noticed where frames do not say it, read where they do."""

from __future__ import annotations

import math
import random

import pytest

from config.profile import GaugeProfile, PatternValue
from contract.units import NM_PER_INCH, NM_PER_MM
from drivers.assembly import Assembler
from drivers.doubts import Doubts
from drivers.encoding import Encoder
from drivers.switching import ALL_FIVES, Switching
from tests.drivers.support import free_running, profile

SECOND_NS = 10**9
TURN = 400


def loose() -> GaugeProfile:
    """One that takes any number of digits, as somebody may write it."""
    kind = free_running(0.2)
    assert isinstance(kind.value, PatternValue)
    value = kind.value.model_copy(update={"pattern": r"(?P<value>[+-]\d+\.\d+)"})
    return kind.model_copy(update={"value": value})


def turned(rng: random.Random) -> list[float]:
    """What a plunger feels in one turn, mm: a rim near its limit, zeroed anywhere."""
    zero, tir, phase = rng.choice((0.0, rng.uniform(-3, 3))), rng.uniform(0.05, 0.4), rng.uniform(0, 6.28)
    return [
        zero + tir / 2 * math.sin(2 * math.pi * n / TURN + phase) + rng.gauss(0, 0.0004) for n in range(TURN)
    ]


def in_inches(mm: float) -> int:
    """As read in mm, nm: a display of 0.00005 in."""
    return round(mm / 25.4 * 20_000) * 50


@pytest.mark.parametrize("seed", range(40))
def test_where_the_point_is_shown_no_number_in_inches_is_taken_for_one_in_mm(seed: int) -> None:
    rng = random.Random(seed)
    felt, at = turned(rng), rng.randrange(20, TURN)
    switching = Switching(NM_PER_MM, in_mm=True, hidden=False)
    assert all(switching.takes(round(mm * 1000) * 1000, 3) for mm in felt[:at])
    assert not any(switching.takes(in_inches(mm), 5) for mm in felt[at:])
    assert all(switching.takes(round(mm * 1000) * 1000, 3) for mm in felt), "it was switched back"


def test_where_it_is_not_shown_a_leap_by_a_power_of_ten_of_it_is_noticed() -> None:
    for zero, factor in ((0.2, 0.0001), (0.2, 0.00001), (-3.0, 0.0001), (2.0, 0.00001)):
        switching = Switching(NM_PER_MM, in_mm=True, hidden=True)
        felt = [zero + 0.001 * n for n in range(30)]
        assert all(switching.takes(round(mm * 1000) * 1000, 3) for mm in felt)
        assert not any(switching.takes(round(mm / 25.4 / factor) * 1000, 3) for mm in felt[::-1])


def by_fives(mm: float) -> int:
    """Counts of a display of 0.00005 in."""
    return round(mm / 25.4 * 20_000) * 5


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("to_inches", [True, False])
def test_where_it_is_not_shown_and_there_is_no_leap_the_step_tells(seed: int, to_inches: bool) -> None:
    """Switched as it stands at nought: the numbers after it are seen to be others as soon as they differ."""
    rng = random.Random(seed)
    tir, at, step = rng.uniform(0.1, 0.4), TURN // 2, NM_PER_MM // 1000 if to_inches else 254
    felt = [tir / 2 * math.sin(2 * math.pi * n / TURN) + rng.gauss(0, 0.0004) for n in range(TURN)]
    before, after = [round(mm * 1000) for mm in felt], [by_fives(mm) for mm in felt]
    if not to_inches:
        before, after = after, before
    shown = 3 if to_inches else 5
    switching = Switching(NM_PER_MM if to_inches else NM_PER_INCH, in_mm=to_inches, hidden=True)
    assert all(switching.takes(value * step, shown) for value in before[:at])
    taken = [switching.takes(value * step, shown) for value in after[at:]]
    first = taken.index(False)
    assert not any(taken[first:])
    assert len(set(after[at : at + first])) <= ALL_FIVES + 3
    back = [switching.takes(value * step, shown) for value in before]
    assert all(back[back.index(True) :]), "it was switched back"
    assert back.index(True) < 30


@pytest.mark.parametrize("step", [1, 2, 5, 10])
def test_a_display_of_any_step_goes_on_as_it_does(step: int) -> None:
    rng = random.Random(step)
    switching = Switching(NM_PER_MM, in_mm=True, hidden=True)
    heights = [round((150 * math.sin(n / 60) + rng.gauss(0, 0.4)) / step) * step for n in range(4 * TURN)]
    assert all(switching.takes(height * 1000, 3) for height in heights)


def test_one_damaged_number_is_no_other_step() -> None:
    switching = Switching(NM_PER_MM, in_mm=True, hidden=True)
    heights = [5 * n for n in range(60)]
    heights[20], heights[40] = 103, 202
    assert all(switching.takes(height * 1000, 3) for height in heights)


def test_a_gauge_in_inches_that_is_switched_to_mm_is_noticed() -> None:
    switching = Switching(NM_PER_INCH, in_mm=False, hidden=False)
    assert all(switching.takes(254 * n, 5) for n in range(700, 730))
    assert not any(
        switching.takes(round(254 * n / 1000) * NM_PER_INCH // 1000, 3) for n in range(730, 700, -1)
    )


@pytest.mark.parametrize("hidden", [False, True])
def test_lifts_knocks_and_zeroings_are_no_switching(hidden: bool) -> None:
    switching = Switching(NM_PER_MM, in_mm=True, hidden=hidden)
    lifted = [0, 0, 500, 2600, 4100, 5000, 5000, 5001, 4700, 2100, 300, 1, 0, 0, 1, 0]
    heights = [*lifted, 320, 0, 1, 0, 2, 0, 0, -1]
    taken = [switching.takes(height * 1000, 3) for height in heights]
    assert taken[-1]
    assert taken.count(False) <= (1 if hidden else 0)


def test_it_is_noticed_as_well_once_the_gauge_has_been_set_up() -> None:
    switching = Switching(NM_PER_MM, in_mm=True, hidden=True)
    assert all(switching.takes(height * 1000, 3) for height in (0, 900, 3_000, 2_000, *[200] * 300))
    assert not switching.takes(79_000, 3), "0.2 mm, of which 0.0079 in are shown"


def test_a_gauge_that_was_only_moved_is_read_again_as_it_moves_on() -> None:
    switching = Switching(NM_PER_MM, in_mm=True, hidden=True)
    assert all(switching.takes(2_540_000, 3) for _ in range(20))
    assert not switching.takes(100_000, 3)
    assert switching.takes(-900_000, 3)


def test_the_numbers_of_a_sweep_end_where_it_is_switched_and_the_hole_is_numbered() -> None:
    assembler = Assembler("g", loose())
    wire = [
        b"\r\n",
        *(b"+000.190\r\n" for _ in range(9)),
        *(b"+0.00748\r\n" for _ in range(6)),
        b"+000.191\r\n",
    ]
    readings = [one for n, line in enumerate(wire) for one in assembler.feed(line, n * SECOND_NS // 50)]
    assert [one.value for one in readings] == [190_000] * 9 + [191_000]
    assert readings[-1].seq == 15
    assert assembler.statistics().rejected == 6


def test_after_it_was_off_its_unit_is_not_doubted() -> None:
    assembler = Assembler("g", loose())
    assembler.feed(b"\r\n" + b"+000.190\r\n" * 9, 0)
    assert assembler.feed(b"+0.00748\r\n", SECOND_NS // 50) == []
    assert [one.value for one in assembler.feed(b"+0.00748\r\n", 3 * SECOND_NS)] == [7_480]


def test_a_gauge_at_a_key_is_put_to_another_place_before_each_reading() -> None:
    assembler = Assembler("g", profile("line-key-mm"))
    wire = b"+025.400\r" * 9 + b"+001.000\r"
    assert [one.value for one in assembler.feed(wire, 0)][-1] == 1_000_000


def test_what_says_its_unit_is_read_in_it() -> None:
    assembler = Assembler("g", profile("line-unit"))
    wire = b"\r\n+000.1900 mm\r\n+000.0075 in\r\n+000.1900 mm\r\n"
    assert [one.value for one in assembler.feed(wire, 0)] == [190_000, 190_500, 190_000]
    assert assembler.statistics().rejected == 0


def test_what_was_told_by_its_step_is_said_so() -> None:
    kind = profile("binary-mm")
    assembler = Assembler("g", kind)
    encoder = Encoder(kind)
    felt = [*range(-20, 20), *(5 * n for n in range(1, 30))]
    values = [
        one.value
        for n, height in enumerate(felt)
        for one in assembler.feed(encoder.frame(height * 1000), n * SECOND_NS // 50)
    ]
    assert len(values) < len(felt) - 10
    assert assembler.switched is not None
    assert "its numbers go by another step than before, from 0.0" in Doubts(kind, assembler).why("m")
