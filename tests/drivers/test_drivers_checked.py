"""Checks at the end of frames: the catalogue's values, other implementations, what a wrong one comes to."""

from __future__ import annotations

import binascii
import random
import zlib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from config.profile import Check, CheckedFraming, CrcCheck, SumCheck, XorCheck
from drivers.framings import framer
from drivers.framings.checks import check_of

ANY: TypeAdapter[Check] = TypeAdapter(Check)
DIGITS = b"123456789"


def crc(
    bits: int, polynomial: int, initial: int, reflected: bool, final_xor: int = 0, **more: str
) -> CrcCheck:
    return CrcCheck.model_validate(
        {"kind": "crc", "bits": bits, "polynomial": polynomial, "initial": initial, "reflected": reflected}
        | {"final_xor": final_xor}
        | more
    )


@pytest.mark.parametrize(
    ("check", "wanted"),
    [
        # Catalogue of parametrised CRC algorithms: the CRC of the ASCII digits 1 to 9. Those of the first
        # three read there, the others from memory.
        (crc(16, 0x8005, 0xFFFF, True), 0x4B37),
        (crc(16, 0x8005, 0x0000, True), 0xBB3D),
        (crc(8, 0x07, 0x00, False), 0xF4),
        (crc(16, 0x1021, 0x0000, False), 0x31C3),
        (crc(16, 0x1021, 0xFFFF, False), 0x29B1),
        (crc(16, 0x1021, 0x0000, True), 0x2189),
        (crc(8, 0x31, 0x00, True), 0xA1),
        (crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF), 0xCBF43926),
        (crc(32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF), 0xE3069283),
    ],
)
def test_the_catalogues_values(check: CrcCheck, wanted: int) -> None:
    assert check_of(check)(DIGITS) == wanted.to_bytes(check.bits // 8, "big")


def test_a_published_frame_with_the_low_byte_first() -> None:
    """Register 0, ten of them, of unit 1: the same catalogue's example of the reflected 0x8005."""
    check = crc(16, 0x8005, 0xFFFF, True, order="low-first")
    assert check_of(check)(bytes.fromhex("01 03 00 00 00 0A")) == bytes.fromhex("C5 CD")


@given(data=st.binary(max_size=60))
def test_as_the_standard_library_has_them(data: bytes) -> None:
    assert check_of(crc(16, 0x1021, 0, False))(data) == binascii.crc_hqx(data, 0).to_bytes(2, "big")
    ours = check_of(crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF))(data)
    assert ours == zlib.crc32(data).to_bytes(4, "big")


@given(data=st.binary(max_size=60))
def test_a_negated_sum_and_an_exclusive_or_undo_what_they_cover(data: bytes) -> None:
    negated = check_of(SumCheck(kind="sum", negated=True))(data)
    assert sum(data + negated) % 256 == 0
    folded = 0
    for byte in data + check_of(XorCheck(kind="xor"))(data):
        folded ^= byte
    assert folded == 0


def test_hexadecimal_digits() -> None:
    assert check_of(XorCheck(kind="xor", form="hex"))(b"\xa0\x0b") == b"AB"


FRAMING = CheckedFraming(kind="checked", length=7, start_byte=0xA5, check=crc(16, 0x8005, 0xFFFF, True))


@given(
    data=st.binary(min_size=4, max_size=4),
    at=st.integers(0, 6),
    change=st.integers(1, 255),
)
def test_one_byte_that_is_wrong_makes_a_frame_none_and_the_next_is_read(
    data: bytes, at: int, change: int
) -> None:
    """A CRC of 16 bits finds every error of up to 16 bits in a row (textbook)."""
    cutter = framer(FRAMING)
    frame = cutter.wrap(data)
    wrong = bytes([*frame[:at], frame[at] ^ change, *frame[at + 1 :]])
    assert cutter.split(wrong + frame + frame, 0)[-2:] == [data, data] or wrong[1:].count(0xA5) > 0
    assert cutter.lost == 1


@given(data=st.lists(st.binary(min_size=4, max_size=4), min_size=1, max_size=4))
def test_bytes_like_the_start_byte_within_a_frame_do_no_harm(data: list[bytes]) -> None:
    cutter = framer(FRAMING)
    sent = [b"\xa5\xa5" + some[2:] for some in data]
    assert cutter.split(b"".join(map(cutter.wrap, sent)), 0) == sent
    assert cutter.lost == 0


RINGS = {
    "exclusive or": XorCheck(kind="xor"),
    "exclusive or of all": XorCheck(kind="xor", covers="frame"),
    "a sum that undoes": SumCheck(kind="sum", negated=True, covers="frame"),
}


@pytest.mark.parametrize("check", RINGS.values(), ids=RINGS.keys())
@given(data=st.binary(min_size=4, max_size=4), start=st.integers(0, 255), joined=st.integers(0, 5))
@example(data=b"\x17\x87\x89\xab", start=0xB2, joined=5)  # whose check is its start byte
def test_a_check_that_holds_wherever_a_frame_is_begun_never_begins_one(
    check: XorCheck | SumCheck, data: bytes, start: int, joined: int
) -> None:
    """A value that stands still sends the same frame again and again."""
    framing = CheckedFraming(kind="checked", length=6, start_byte=start, check=check, max_pause_s=0.05)
    wire = framer(framing).wrap(data) * 6
    cutter = framer(framing, hunting=True)
    assert cutter.split(wire[joined:], 0) == []
    # One that could be another, turned round, is read right after a pause alone.
    assert cutter.split(wire, 10**9) in ([data], [data] * 6)
    assert cutter.split(wire[:6], 2 * 10**9) == [data]
    lost = framer(framing)
    assert set(lost.split(wire[:6] + wire[6 + joined :], 0)) <= {data}


@pytest.mark.slow
def test_of_a_flood_of_random_bytes_no_more_pass_than_chance_lets() -> None:
    """One start in 65 536 by its check: of 2 million bytes some 8 000 begin like a frame."""
    rng, cutter = random.Random(5), framer(FRAMING)
    passed = sum(len(cutter.split(rng.randbytes(1000), 0)) for _ in range(2000))
    told = cutter.statistics()
    assert passed <= 3
    assert told.frames + told.halves >= 1
    assert told.bytes_in - told.bytes_discarded - passed * 7 < 7


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"length": 6, "check": {"kind": "xor"}}, "start_byte, or a check of 16 bits"),
        ({"length": 3, "start_byte": 1, "check": {"kind": "sum", "bits": 16}}, "a length of 4 or more"),
        ({"length": 6, "check": {"kind": "sum", "bits": 16, "covers": "frame"}}, 'covers "data"'),
        ({"length": 6, "start_byte": 1, "check": {"kind": "xor"}}, "max_pause_s: shorter"),
        (
            {"length": 6, "check": {"kind": "crc", "bits": 8, "polynomial": 0x107}},
            "polynomial of at most 8 bits",
        ),
    ],
)
def test_what_cannot_be_is_said(table: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        CheckedFraming.model_validate({"kind": "checked", **table})
