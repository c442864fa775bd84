"""Every shipped profile, from value to bytes and back."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.files import shipped_names
from config.profile import GaugeProfile, PatternValue
from contract.units import Unit
from drivers.assembly import Assembler
from drivers.encoding import encode
from drivers.errors import EncodeError, FrameError
from drivers.framings import framer
from drivers.proof import failures
from drivers.values import codec
from tests.drivers.support import profile

NAMES = shipped_names("gauges")


def step_of(kind: GaugeProfile) -> int:
    """One step of the frame's last digit, in whole units: the least value that is not shown as 0; with a
    power of ten that of the largest value of its proof."""
    if isinstance(kind.value, PatternValue) and kind.value.has_power:
        return int(10 ** (len(str(max(proved(kind)))) - 1 - kind.value.shown_decimals))
    nought, low, high = encode(0, kind), 0, 10**9
    while high - low > 1:
        middle = (low + high) // 2
        try:
            low, high = (middle, high) if encode(middle, kind) == nought else (low, middle)
        except EncodeError:
            high = middle
    (value,) = read(kind, encode(high, kind))
    return value


def read(kind: GaugeProfile, wire: bytes) -> list[int]:
    decoder = codec(kind.value, kind.id)
    return [decoder.value(data) for data in framer(kind.framing).split(wire, 7)]


def proved(kind: GaugeProfile) -> list[int]:
    return [value for proof in kind.proof for value in proof.values]


@cache
def shown(name: str) -> tuple[GaugeProfile, st.SearchStrategy[int]]:
    """A profile, and what its frames can say, between the least and the largest value of its proof."""
    kind = profile(name)
    step, values = step_of(kind), proved(kind)
    return kind, st.integers(min(values) // step, max(values) // step).map(lambda steps: steps * step)


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
    decoder = codec(kind.value, kind.id)
    for value in (0, step_of(kind), *proved(kind)):
        (data,) = framer(kind.framing).split(encode(value, kind), 0)
        pieces = [data[:n] for n in range(len(data))] + [data[n:] for n in range(1, len(data))]
        for piece in pieces + [head + data for head in pieces if head]:
            with pytest.raises(FrameError):
                decoder.value(piece)


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_what_is_encoded_is_decoded_exactly(name: str, data: st.DataObject) -> None:
    kind, span = shown(name)
    value = data.draw(span)
    assert read(kind, encode(value, kind)) == [value]


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_a_byte_lost_or_put_in_gives_no_value_that_was_not_sent(name: str, data: st.DataObject) -> None:
    """Or a beginning anywhere: what is read is what was sent, or nothing."""
    kind, span = shown(name)
    sent = [data.draw(span), data.draw(span)]
    wire = b"".join(encode(value, kind) for value in sent)
    at = data.draw(st.integers(0, len(wire)))
    stray = data.draw(st.binary(max_size=1))
    kinds = [wire[:at] + stray + wire[at:], wire[:at] + wire[at + 1 :], wire[at:]]
    assembler = Assembler("g", kind)
    heard = assembler.feed(data.draw(st.sampled_from(kinds)), 0)
    heard += assembler.feed(encode(0, kind), 1)
    assert {reading.value for reading in heard} <= {*sent, 0}


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
        ("digits-mm", 1_000),
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
    assert codec(profile("line-inch").value, "g").unit is Unit.NM
    assert codec(profile("encoder-degrees").value, "g").unit is Unit.UDEG
    assert codec(profile("encoder-counts").value, "g").unit is Unit.COUNT
