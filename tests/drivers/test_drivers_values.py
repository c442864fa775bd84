"""One suite for all kinds of value: what holds of one codec holds of every one."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.profile import DigitsValue, IntegerValue, PatternValue, Value, WireUnit
from contract.units import Unit
from drivers.errors import EncodeError, FrameError
from drivers.values import codec
from tests.drivers.support import members

# The 1959 agreement: an inch is 25.4 mm exactly.
INCH_NM = 25_400_000


def text(pattern: str, template: str, unit: str = "mm", scale: str = "1") -> PatternValue:
    return PatternValue(pattern=pattern, template=template, unit=WireUnit(unit), scale=Decimal(scale))


def digits(**changed: object) -> DigitsValue:
    """Sign, six digits, and a place that says how many of them are decimals."""
    plain = {
        "kind": "digits",
        "coding": "nibbles",
        "number": [1, 2, 3, 4, 5, 6],
        "decimals": 3,
        "point": 7,
        "sign": {"at": 0, "mask": 8},
        "unit": "mm",
    }
    return DigitsValue.model_validate(plain | changed)


def integer(**changed: object) -> IntegerValue:
    """Four bytes, high first, in micrometres."""
    plain = {"kind": "integer", "length": 4, "size": 4, "order": "high-first", "decimals": 3, "unit": "mm"}
    return IntegerValue.model_validate(plain | changed)


class Row(NamedTuple):
    """value: the model. step: one step of what it shows, in whole units. most: the largest number of
    steps that it shows, and the lowest, for both signs where it has one."""

    value: Value
    step: int
    most: int
    least: int


SIGNED = r"(?P<value>[+-]\d{3}\.\d{3})"
KINDS = {
    "pattern, mm": Row(text(SIGNED, "{:+08.3f}"), 1_000, 999_999, -999_999),
    "pattern, in": Row(text(r"(?P<value>[+-]\d\.\d{5})", "{:+08.5f}", "in"), 254, 999_999, -999_999),
    "pattern, half": Row(text(SIGNED, "{:+08.3f}", scale="0.5"), 500, 999_999, -999_999),
    "pattern, deg": Row(text(r"(?P<value>\d{3}\.\d)", "{:05.1f}", "deg"), 100_000, 9_999, 0),
    "pattern, count": Row(text(r"(?P<value>[+-]\d{4})", "{:+05.0f}", "count"), 1, 9_999, -9_999),
    "digits, mm": Row(digits(), 1_000, 999_999, -999_999),
    "digits, in": Row(
        digits(unit="in", decimals=5, inch={"at": 0, "mask": 1}), INCH_NM // 10**5, 999_999, -999_999
    ),
    "digits, fixed point": Row(digits(point=None, number=[1, 2, 3]), 1_000, 999, -999),
    "digits, characters": Row(digits(coding="characters", scale="-1"), 1_000, 999_999, -999_999),
    "digits, marks": Row(
        digits(number=[5, 1, 2], marks=[{"at": 3, "digit": 14}], free=[4, 6]), 1_000, 999, -999
    ),
    "digits, deg": Row(
        digits(sign=None, number=[0, 1, 2, 3], point=None, decimals=1, unit="deg"), 100_000, 9_999, 0
    ),
    "digits, lower half first": Row(digits(coding="low-nibbles"), 1_000, 999_999, -999_999),
    "digits, mirrored": Row(digits(coding="mirrored"), 1_000, 999_999, -999_999),
    "integer, mm": Row(integer(), 1_000, 2**31 - 1, -(2**31)),
    "integer, low first": Row(
        integer(order="low-first", size=2, at=1, decimals=0, unit="count"), 1, 2**15 - 1, -(2**15)
    ),
    "integer, no sign": Row(
        integer(signed=False, size=3, scale="0.5", decimals=3, marks=[{"at": 3, "byte": 7}]),
        500,
        2**24 - 1,
        0,
    ),
    "digits, count": Row(digits(decimals=0, unit="count"), 1, 999_999, -999_999),
}
"""One row at least for each kind of value."""

every = pytest.mark.parametrize("row", KINDS.values(), ids=KINDS.keys())


def test_every_kind_has_a_row() -> None:
    assert {type(row.value) for row in KINDS.values()} == members(Value)


@every
@given(draw=st.data())
def test_what_is_written_is_read_exactly(row: Row, draw: st.DataObject) -> None:
    value = row.step * draw.draw(st.integers(row.least, row.most))
    both = codec(row.value, "rim-1")
    assert both.value(both.write(value)) == value


@every
def test_a_value_between_steps_is_shown_as_the_nearest_ties_to_even(row: Row) -> None:
    both = codec(row.value, "rim-1")
    for steps in (1, 2, 7):
        for off in (-Fraction(49, 100), Fraction(49, 100)):
            near = round((steps + off) * row.step)
            assert both.value(both.write(near)) == round(Fraction(near, row.step)) * row.step
    if row.step % 2 == 0:
        assert both.value(both.write(row.step * 3 // 2)) == 2 * row.step
        assert both.value(both.write(row.step // 2)) == 0


@every
def test_a_value_that_does_not_fit_is_not_written(row: Row) -> None:
    both = codec(row.value, "rim-1")
    beyond = [row.step * (row.most + 1), row.step * (row.least - 1), row.step * 10**12]
    for value in beyond:
        with pytest.raises(EncodeError, match=r"expected .*, got"):
            both.write(value)


@every
@given(draw=st.data())
def test_no_part_of_a_frame_and_no_longer_one_is_a_value(row: Row, draw: st.DataObject) -> None:
    both = codec(row.value, "rim-1")
    data = both.write(row.step * draw.draw(st.integers(row.least, row.most)))
    cut = draw.draw(st.integers(1, len(data)))
    for wrong in (data[cut:], data[:-cut], data + data[:cut], data[:cut] + data):
        with pytest.raises(FrameError):
            both.value(wrong)


@every
@given(data=st.binary(max_size=12))
def test_whatever_comes_is_a_value_or_a_rejection_that_says_who_and_what(row: Row, data: bytes) -> None:
    both = codec(row.value, "rim-1")
    said = None
    try:
        value = both.value(data)
    except FrameError as error:
        said = error
    if said is None:
        assert isinstance(value, int)
    else:
        assert (said.gauge, said.frame) == ("rim-1", data)
        assert str(said) == f"rim-1: frame rejected: expected {both.expected}, got {data!r}"


@every
def test_units(row: Row) -> None:
    wanted = {"mm": Unit.NM, "in": Unit.NM, "deg": Unit.UDEG, "count": Unit.COUNT}[row.value.unit]
    assert codec(row.value, "rim-1").unit is wanted


INDEXED: dict[str, tuple[Value, list[bytes], list[bool]]] = {
    "pattern": (
        text(r"(?P<value>[+-]\d{3})(?P<index>[ *01])", "{:+04.0f} ", "count"),
        [b"+012 ", b"+012*", b"+0121", b"+0120"],
        [False, True, True, False],
    ),
    "digits": (
        digits(unit="count", decimals=0, point=None, number=[1, 2, 3], sign={"at": 0, "mask": 8},
               index={"at": 4, "mask": 3}, coding="characters"),
        [b"00120", b"00123", b"80123"],
        [False, True, True],
    ),
    "integer": (
        integer(unit="count", decimals=0, size=2, index={"at": 3, "mask": 128}),
        [b"\x00\x0c\x00\x00", b"\x00\x0c\x00\x80", b"\x00\x0c\x00\xff", b"\x00\x0c\xff\x7f"],
        [False, True, True, False],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", INDEXED)
def test_an_encoders_frame_says_whether_its_index_has_come_beside_its_count(name: str) -> None:
    value, frames, at_index = INDEXED[name]
    made = codec(value, "encoder-1")
    assert made.has_index
    assert [made.index(frame) for frame in frames] == at_index
    assert {abs(made.value(frame)) for frame in frames} == {12}
    assert not made.index(made.write(12))
    assert not codec(KINDS["pattern, mm"].value, "rim-1").has_index


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"modulus": 65_536}, "no modulus"), ({"index": {"at": 4, "mask": 1}}, "each byte for one thing"),
        ({"length": 5, "index": {"at": 5, "mask": 1}}, "places below its length"),
    ],
)  # fmt: skip
def test_an_index_or_modulus_that_cannot_be_is_refused(changed: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        integer(**({"length": 6, "size": 5} | changed))
