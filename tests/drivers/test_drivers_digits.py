"""Digits at stated places: what the suite of all values does not ask."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from config.profile import DigitsValue
from drivers.errors import FrameError
from drivers.values import codec
from tests.drivers.support import profile
from tests.drivers.test_drivers_values import INCH_NM, digits

SHIPPED = profile("digits-mm").value
BOTH = codec(SHIPPED, "rim-1")


def test_a_frame_drawn() -> None:
    assert BOTH.value(bytes.fromhex("80 00 19 03 EE")) == -190_000
    assert BOTH.write(-190_000) == bytes.fromhex("80 00 19 03 EE")
    characters = digits(coding="characters")
    assert codec(characters, "rim-1").value(b"80001903") == -190_000
    assert codec(characters, "rim-1").write(190_000) == b"00001903"


@given(number=st.integers(0, 999_999), decimals=st.integers(0, 6), negative=st.booleans(), inch=st.booleans())
def test_point_sign_and_unit_are_as_their_places_say(
    number: int, decimals: int, negative: bool, inch: bool
) -> None:
    data = bytes.fromhex(f"{8 * negative + inch:x}{number:06d}{decimals}ee")
    exact = Fraction(-number if negative else number, 10**decimals) * (INCH_NM if inch else 1_000_000)
    assert BOTH.value(data) == round(exact)
    if not inch or decimals <= 5:
        assert exact.denominator == 1  # nothing is lost


def test_the_spread_of_the_bench_example_is_exact() -> None:
    # Highest 0.27, lowest 0.08, spread 0.19: common practice, no source.
    highest, lowest = (BOTH.value(bytes.fromhex(f"0{n}3ee")) for n in ("000270", "000080"))
    assert highest - lowest == 190_000


@pytest.mark.parametrize(
    "wrong",
    [
        "80 00 1A 03 EE",  # a digit that is none
        "40 00 19 03 EE",  # a bit that is neither sign nor inch
        "80 00 19 07 EE",  # more decimals than digits
        "80 00 19 03 EF",  # another mark
        "80 00 19 03",
        "80 00 19 03 EE EE",
        "",
    ],
)
def test_a_digit_that_may_not_stand_there_makes_no_value(wrong: str) -> None:
    with pytest.raises(FrameError, match="expected 10 digits as nibbles in 5 bytes"):
        BOTH.value(bytes.fromhex(wrong))


def test_part_of_a_mask_is_no_sign() -> None:
    two = codec(digits(sign={"at": 0, "mask": 12}), "rim-1")
    assert two.value(bytes.fromhex("c0001903")) == -190_000
    for wrong in ("80001903", "40001903"):
        with pytest.raises(FrameError):
            two.value(bytes.fromhex(wrong))


def test_minus_nought_is_nought() -> None:
    assert BOTH.value(bytes.fromhex("80 00 00 03 EE")) == 0
    assert BOTH.write(-400) == bytes.fromhex("00 00 00 03 EE")


def test_free_places_say_nothing() -> None:
    free = codec(digits(free=[8, 9]), "rim-1")
    assert {free.value(bytes.fromhex(f"00001903{some}")) for some in ("00", "9a", "ff")} == {190_000}


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"number": [1, 2, 3, 4, 5, 5]}, "each place from 0 to 7 spoken for once"),
        ({"number": [1, 2, 3, 4, 5]}, "each place from 0 to 7 spoken for once"),
        ({"point": None}, "an even number of places"),
        ({"inch": {"at": 0, "mask": 12}}, "bits of their own for sign, inch"),
        ({"decimals": 7}, "at most 6 decimals"),
        ({"unit": "deg", "inch": {"at": 0, "mask": 1}}, 'no inch, or unit = "mm" or "in"'),
        ({"sign": {"at": 0, "mask": 0}}, "greater than or equal to 1"),
        ({"marks": [{"at": 8, "digit": 16}]}, "less than or equal to 15"),
        ({"coding": "bits"}, "nibbles"),
        ({"scale": 0}, "a number other than 0"),
    ],
)
def test_what_cannot_be_meant_is_refused(changed: dict[str, object], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        digits(**changed)


def test_what_may_stand_in_each_byte() -> None:
    assert isinstance(SHIPPED, DigitsValue)
    first, second, *_, last = SHIPPED.alphabets
    assert first == {high << 4 | low for high in (0, 1, 8, 9) for low in range(10)}
    assert second == {high << 4 | low for high in range(10) for low in range(10)}
    assert last == {0xEE}
    assert SHIPPED.digits[7] == set(range(7))


def test_inches_need_a_place_for_the_point() -> None:
    """A display has other decimals in inches: with those of the one, the other is off by powers of ten, and a
    run-out of 0.190 mm reads as 0.002 mm."""
    with pytest.raises(ValidationError, match="point, as inches are shown with other decimals"):
        digits(unit="in", decimals=5, point=None, number=[1, 2, 3, 4, 5, 6, 7], inch={"at": 0, "mask": 1})
