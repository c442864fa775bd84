from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.profile import PatternValue, WireUnit
from drivers.errors import FrameError
from drivers.values import codec
from tests.drivers.support import profile


def loose(pattern: str = "(?P<value>.*)", unit: str = "mm", scale: str = "1") -> PatternValue:
    return PatternValue(pattern=pattern, template="{:+}", unit=WireUnit(unit), scale=Decimal(scale))


def decoded(kind: PatternValue, data: bytes) -> int:
    return codec(kind, "rim-1").value(data)


@given(number=st.decimals(-9, 9, places=5))
def test_an_inch_is_25_4_mm_exactly(number: Decimal) -> None:
    value = decoded(loose(unit="in"), f"{number:+.5f}".encode())
    assert value == Fraction(number) * 25_400_000  # the 1959 agreement, in nanometres


@given(number=st.decimals(-999, 999, places=6), scale=st.sampled_from(["1", "-1", "2", "0.5"]))
def test_a_millimetre_value_loses_nothing(number: Decimal, scale: str) -> None:
    exact = Fraction(number) * Fraction(Decimal(scale)) * 1_000_000
    assert decoded(loose(scale=scale), f"{number:.6f}".encode()) == round(exact)


def test_the_spread_of_the_bench_example_is_exact() -> None:
    # Highest 0.27, lowest 0.08, spread 0.19: common practice, no source.
    kind = profile("line-mm").value
    assert isinstance(kind, PatternValue)
    assert decoded(kind, b"+000.270") - decoded(kind, b"+000.080") == 190_000


@pytest.mark.parametrize(
    ("text", "value"),
    [
        (b"0.0000005", 0),
        (b"0.0000015", 2),
        (b"-0.0000025", -2),
        (b"0.00000251", 3),
        (b".5", 500_000),
        (b"3.", 3_000_000),
        (b"7", 7_000_000),
    ],
)
def test_finer_than_a_nanometre_is_rounded_ties_to_even(text: bytes, value: int) -> None:
    assert decoded(loose(), text) == value


@pytest.mark.parametrize(
    "text", [b"", b"+", b".", b"-.", b"1_0", b" 1", b"1 ", b"1.2.3", b"1e3", b"nan", b"\xb2", b"--1", b"+1-"]
)
def test_a_loose_pattern_lets_no_wrong_number_through(text: bytes) -> None:
    with pytest.raises(FrameError):
        decoded(loose(), text)


def test_a_group_that_takes_no_part_is_no_number() -> None:
    with pytest.raises(FrameError):
        decoded(loose("(?P<value>[0-9]+)?.*"), b"over range")


def test_a_rejection_says_who_what_and_what_came() -> None:
    with pytest.raises(FrameError, match=re.escape("rim-1: frame rejected: expected")) as caught:
        codec(profile("line-mm").value, "rim-1").value(b"+00.4x")
    assert "got b'+00.4x'" in str(caught.value)
    assert caught.value.frame == b"+00.4x"
    assert caught.value.gauge == "rim-1"
