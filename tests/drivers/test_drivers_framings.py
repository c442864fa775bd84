"""One suite for all framings: what holds of one framer holds of every one."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.profile import (
    CheckedFraming,
    CrcCheck,
    FixedFraming,
    Framing,
    LineFraming,
    PacketFraming,
    SumCheck,
    XorCheck,
)
from drivers.errors import EncodeError
from drivers.framings import Frame, Framer, framer
from drivers.packets import END, set_apart
from tests.drivers.support import members

SECOND_NS = 1_000_000_000
LENGTH = 6

KINDS: dict[str, Framing] = {
    "line": LineFraming(terminator="\r\n", max_bytes=LENGTH),
    "line, one byte": LineFraming(terminator="\r", max_bytes=LENGTH),
    "fixed, start byte": FixedFraming(kind="fixed", length=LENGTH + 1, start_byte=0xFA),
    "fixed, start bits": FixedFraming(kind="fixed", length=LENGTH, start_byte=0x80, start_mask=0xC0),
    "fixed, pause": FixedFraming(kind="fixed", length=LENGTH, max_pause_s=0.5),
    "checked, crc": CheckedFraming(
        kind="checked", length=LENGTH + 2, check=CrcCheck(kind="crc", bits=16, polynomial=0x1021)
    ),
    "checked, start and sum": CheckedFraming(
        kind="checked",
        length=LENGTH + 3,
        start_byte=0xA5,
        check=SumCheck(kind="sum", bits=16, covers="frame"),
    ),
    "checked, exclusive or": CheckedFraming(
        kind="checked", length=LENGTH + 2, start_byte=0xA5, check=XorCheck(kind="xor"), max_pause_s=0.5
    ),
    "checked, hex": CheckedFraming(
        kind="checked", length=LENGTH + 3, start_byte=0x24, check=XorCheck(kind="xor", form="hex")
    ),
    "packet": PacketFraming(kind="packet", max_bytes=LENGTH),
    "packet, checked": PacketFraming(
        kind="packet",
        max_bytes=LENGTH + 4,
        start_byte=0xA5,
        check=XorCheck(kind="xor", form="hex"),
        behind=1,
    ),
}
"""One row at least for each kind of framing, all of them for six bytes of data."""

# What each of them may carry: neither CR nor LF, nor 0xFA, nor anything with an upper bit.
data_of_a_frame = st.text("0123456789+-.", min_size=LENGTH, max_size=LENGTH).map(str.encode)
noise = st.binary(min_size=1, max_size=20)
every = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS.keys())


@st.composite
def cut_streams(draw: st.DrawFn, kind: Framing) -> list[bytes]:
    wrap = framer(kind).wrap
    stream = b"".join(draw(st.lists(data_of_a_frame.map(wrap) | noise, max_size=8)))
    places = [0, *sorted(draw(st.lists(st.integers(0, len(stream)), max_size=8))), len(stream)]
    return [stream[a:b] for a, b in itertools.pairwise(places)]


def handed_out(framer: Framer, pieces: list[bytes], time_ns: int = 0) -> list[bytes]:
    return [data for piece in pieces for data in framer.split(piece, time_ns)]


def test_every_kind_has_a_row() -> None:
    assert {type(kind) for kind in KINDS.values()} == members(Framing)


@every
@given(sent=st.lists(data_of_a_frame, max_size=5))
def test_what_is_wrapped_is_cut_out_as_it_was(kind: Framing, sent: list[bytes]) -> None:
    cutter = framer(kind)
    wire = [cutter.wrap(data) for data in sent]
    assert handed_out(cutter, wire) == sent
    assert {len(frame) for frame in wire} <= {LENGTH + cutter.marks_bytes}
    statistics = cutter.statistics()
    assert (statistics.frames, cutter.lost, statistics.bytes_discarded) == (len(sent), 0, 0)


@every
def test_a_frame_has_the_time_of_its_last_byte(kind: Framing) -> None:
    cutter = framer(kind)
    wire = cutter.wrap(b"+0.190") * 2
    assert cutter.feed(wire[:3], 10) == []
    assert cutter.feed(wire[3:-1], 20) == [Frame(b"+0.190", 20)]
    assert cutter.feed(wire[-1:], 30) == [Frame(b"+0.190", 30)]


@pytest.mark.slow
@every
@given(draw=st.data(), hunting=st.booleans())
def test_wherever_a_stream_is_cut_the_frames_are_the_same(
    kind: Framing, draw: st.DataObject, hunting: bool
) -> None:
    pieces = draw.draw(cut_streams(kind))
    stream = b"".join(pieces)
    whole, cut, single = (framer(kind, hunting=hunting) for _ in range(3))
    frames = handed_out(whole, [stream])
    assert handed_out(cut, pieces) == frames
    assert handed_out(single, [bytes([byte]) for byte in stream]) == frames
    assert cut.statistics() == whole.statistics() == single.statistics()


@pytest.mark.slow
@every
@given(draw=st.data(), hunting=st.booleans())
def test_every_byte_is_accounted_for(kind: Framing, draw: st.DataObject, hunting: bool) -> None:
    cutter = framer(kind, hunting=hunting)
    pieces = draw.draw(cut_streams(kind))
    handed = handed_out(cutter, pieces)
    cutter.restart()
    told = cutter.statistics()
    assert told.bytes_in == cutter.bytes_in == sum(map(len, pieces))
    if isinstance(kind, LineFraming):  # an end before which all was thrown away is a mark all the same
        marks = b"".join(pieces).count(kind.terminator_bytes) * cutter.marks_bytes
    elif isinstance(kind, PacketFraming):  # likewise, and a byte like a mark is written as two
        beside = sum(len(cutter.wrap(data).strip(END)) - len(data) for data in handed)
        marks = b"".join(pieces).count(END) + beside
    else:
        marks = told.frames * cutter.marks_bytes
    assert told.frames == len(handed)
    assert told.bytes_in == sum(map(len, handed)) + marks + told.bytes_discarded


@every
@given(rubbish=noise, sent=st.lists(data_of_a_frame, min_size=2, max_size=4))
def test_after_rubbish_and_a_pause_it_is_in_step_by_the_second_frame(
    kind: Framing, rubbish: bytes, sent: list[bytes]
) -> None:
    cutter = framer(kind, hunting=True)
    cutter.split(rubbish, 0)
    frames = handed_out(cutter, [cutter.wrap(data) for data in sent], SECOND_NS)
    assert frames in (sent, sent[1:])


@every
@given(sent=st.lists(data_of_a_frame, min_size=2, max_size=4), skipped=st.integers(0, LENGTH + 1))
def test_hunting_throws_away_what_may_be_half_a_frame(kind: Framing, sent: list[bytes], skipped: int) -> None:
    cutter = framer(kind, hunting=True)
    wire = b"".join(map(cutter.wrap, sent))
    heard = handed_out(cutter, [wire[skipped:]])
    assert heard == sent[len(sent) - len(heard) :]
    assert cutter.lost == 0


@every
@given(cut=st.integers(1, LENGTH - 1), hunting=st.booleans())
def test_a_frame_cut_by_a_pause_is_counted_and_not_glued_to_what_follows(
    kind: Framing, cut: int, hunting: bool
) -> None:
    cutter = framer(kind, hunting=hunting)
    frame = cutter.wrap(b"+0.190")
    cut = max(cut, 1 + isinstance(kind, PacketFraming))  # whose first byte as well ends what was before
    handed_out(cutter, [frame])
    (before,) = handed_out(cutter, [frame], SECOND_NS)
    lost = cutter.lost
    assert handed_out(cutter, [frame[:cut]], SECOND_NS) == []
    later = handed_out(cutter, [frame, frame], 3 * SECOND_NS)
    assert {before, *later} == {b"+0.190"}
    assert len(later) in ((1, 2) if hunting else (2,))
    assert cutter.lost == lost + 1
    assert cutter.statistics().halves == 1


@every
def test_a_slow_line_within_the_pause_is_one_frame(kind: Framing) -> None:
    cutter = framer(kind)
    frames = [
        frame
        for n, byte in enumerate(cutter.wrap(b"+0.190"))
        for frame in cutter.feed(bytes([byte]), n * SECOND_NS // 2)
    ]
    assert [frame.data for frame in frames] == [b"+0.190"]


@every
def test_a_restart_forgets_half_a_frame_and_counts_it_once(kind: Framing) -> None:
    cutter = framer(kind)
    frame = cutter.wrap(b"+0.190")
    cutter.split(frame[:4], 0)
    cutter.restart()
    assert handed_out(cutter, [frame]) == [b"+0.190"]
    cutter.restart()
    assert (cutter.statistics().halves, cutter.lost) == (1, 1)


@every
def test_rubbish_without_end_does_not_fill_the_memory(kind: Framing) -> None:
    cutter = framer(kind)
    handed = handed_out(cutter, [b"garbage" * 10] * 1000)
    told = cutter.statistics()
    kept = told.bytes_in - told.bytes_discarded - sum(map(len, handed)) - told.frames * cutter.marks_bytes
    assert 0 <= kept <= LENGTH + cutter.marks_bytes
    cutter.split(b"", SECOND_NS)
    frame = cutter.wrap(b"+0.190")
    assert handed_out(cutter, [frame, frame], 2 * SECOND_NS)[-1] == b"+0.190"


@every
@given(data=st.binary(max_size=2 * LENGTH))
def test_what_would_not_be_cut_out_again_as_it_is_is_not_wrapped(kind: Framing, data: bytes) -> None:
    cutter = framer(kind)
    try:
        frame = cutter.wrap(data)
    except EncodeError:
        return
    assert handed_out(cutter, [frame]) == [data]
    assert cutter.lost == 0


@every
def test_data_that_is_too_long_is_not_wrapped(kind: Framing) -> None:
    with pytest.raises(EncodeError, match=re.escape("got b'+00.190'")):
        framer(kind).wrap(b"+00.190")


@every
def test_a_snapshot_cannot_be_written_to(kind: Framing) -> None:
    with pytest.raises(AttributeError):
        framer(kind).statistics().frames = 1  # type: ignore[misc]  # that it cannot be set is what is tested


def test_a_packet_whose_check_does_not_hold_is_none_and_leaves_a_hole() -> None:
    """One that was overwritten in a device's memory, or read of another: what is behind its check is any."""
    kind = PacketFraming(kind="packet", start_byte=0xA5, check=SumCheck(kind="sum"), behind=2)
    cutter = framer(kind)
    assert cutter.wrap(b"\x01\x02") == set_apart(b"\xa5\x01\x02\x03\x00\x00")
    assert handed_out(cutter, [set_apart(b"\xa5\x01\x02\x03\x77\x78")]) == [b"\x01\x02"]
    for bad in (b"\xa5\x01\x02\x04\x00\x00", b"\xa6\x01\x02\x03\x00\x00", b"\xa5\x00\x00\x00", b"\x03"):
        lost = cutter.lost
        assert handed_out(cutter, [set_apart(bad)]) == []
        assert cutter.lost == lost + 1
