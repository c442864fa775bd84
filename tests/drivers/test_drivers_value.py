from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.files import shipped_names
from config.profile import GaugeProfile
from contract.units import Unit
from drivers.errors import EncodeError, FrameError
from drivers.framing import Frame, LineFramer
from drivers.proof import failures
from drivers.value import Decoder, encode, unit_of
from tests.drivers.support import profile

NAMES = shipped_names("gauges")


def step_of(kind: GaugeProfile) -> int:
    """One step of the frame's last digit, in whole units: the least value that is not shown as 0."""
    nought, low, high = encode(0, kind), 0, 10**9
    while high - low > 1:
        middle = (low + high) // 2
        try:
            low, high = (middle, high) if encode(middle, kind) == nought else (low, middle)
        except EncodeError:
            high = middle
    (frame,) = LineFramer(kind.framing).feed(encode(high, kind), 0)
    return Decoder(kind).decode(frame)


def proved(kind: GaugeProfile) -> list[int]:
    return [value for proof in kind.proof for value in proof.values]


def loose(pattern: str = "(?P<value>.*)", unit: str = "mm", scale: str = "1") -> GaugeProfile:
    base = profile("line-mm")
    changed = base.value.model_copy(
        update={"pattern": pattern, "unit": unit, "scale": Decimal(scale), "template": "{:+}"}
    )
    return base.model_copy(update={"value": changed})


def decoded(kind: GaugeProfile, data: bytes) -> int:
    return Decoder(kind).decode(Frame(data, 0))


@pytest.mark.parametrize("name", NAMES)
def test_every_shipped_profile_proves_itself(name: str) -> None:
    kind = profile(name)
    assert kind.id == name
    assert failures(kind) == []
    assert any(proof.rejected for proof in kind.proof)


def test_a_proof_that_does_not_hold_is_told() -> None:
    kind = profile("line-mm")
    wrong = kind.proof[0].model_copy(update={"values": (190_000, -80_000, 1)})
    unrejected = kind.proof[-1].model_copy(update={"text": "+000.190\r\n", "hex": None})
    told = failures(kind.model_copy(update={"proof": (wrong, unrejected)}))
    assert len(told) == 2
    assert "line-mm: proof 1: expected values [190000, -80000, 1], got [190000, -80000, 0]" in told[0]
    assert "proof 2: expected a rejected frame" in told[1]


@pytest.mark.parametrize("name", NAMES)
def test_no_cut_of_a_shipped_frame_reads_as_a_value(name: str) -> None:
    kind = profile(name)
    decoder = Decoder(kind)
    for value in (0, step_of(kind), *proved(kind)):
        data = encode(value, kind).removesuffix(kind.framing.terminator_bytes)
        pieces = [data[:n] for n in range(len(data))] + [data[n:] for n in range(1, len(data))]
        for piece in pieces + [head + data for head in pieces if head]:
            with pytest.raises(FrameError):
                decoder.value(piece)


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_what_is_encoded_is_decoded_exactly(name: str, data: st.DataObject) -> None:
    kind = profile(name)
    step, values = step_of(kind), proved(kind)
    value = step * data.draw(st.integers(min(values) // step, max(values) // step))
    frame = encode(value, kind)
    (cut,) = LineFramer(kind.framing).feed(frame, 7)
    assert Decoder(kind).decode(cut) == value


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
    kind = profile("line-mm")
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
        Decoder(profile("line-mm"), "rim-1").value(b"+00.4x")
    assert "got b'+00.4x'" in str(caught.value)
    assert caught.value.frame == b"+00.4x"
    assert caught.value.gauge == "rim-1"


def test_a_value_that_does_not_fit_is_not_written() -> None:
    kind = profile("encoder-degrees")
    for value in (-1_000, 400_000_000, 1_000_000_000):
        with pytest.raises(EncodeError, match="encoder-degrees"):
            encode(value, kind)


def test_a_value_between_steps_is_shown_as_the_nearest() -> None:
    kind = profile("line-mm")
    assert encode(190_499, kind) == b"+000.190\r\n"
    assert encode(190_500, kind) == b"+000.190\r\n"
    assert encode(191_500, kind) == b"+000.192\r\n"
    assert encode(0, kind) == b"+000.000\r\n"


@pytest.mark.parametrize(
    ("name", "step"),
    [
        ("line-mm", 1_000),
        ("line-inch", 254),
        ("line-requested-mm", 1_000),
        ("line-key-mm", 1_000),
        ("encoder-degrees", 1_000),
        ("encoder-counts", 1),
    ],
)
def test_steps(name: str, step: int) -> None:
    assert step_of(profile(name)) == step


def test_units() -> None:
    assert unit_of(profile("line-inch")) is Unit.NM
    assert unit_of(profile("encoder-degrees")) is Unit.UDEG
    assert unit_of(profile("encoder-counts")) is Unit.COUNT
