from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.profile import LineFraming
from drivers.framings import Frame
from drivers.framings.line import LineFramer

SECOND_NS = 1_000_000_000


def framing(terminator: str = "\r\n", max_bytes: int = 12) -> LineFraming:
    return LineFraming(kind="line", terminator=terminator, max_bytes=max_bytes)


streams = st.lists(
    st.sampled_from([b"+000.190", b"\r", b"\n", b"\r\n", b"\r\r\n", b"x", b"\xff\x00", b"y" * 13, b"z" * 40])
).map(b"".join)
terminators = st.sampled_from(["\r\n", "\r", "\r\n\r"])


@st.composite
def cut_streams(draw: st.DrawFn) -> list[bytes]:
    stream = draw(streams)
    cuts = draw(st.lists(st.integers(0, len(stream))))
    places = [0, *sorted(cuts), len(stream)]
    return [stream[a:b] for a, b in itertools.pairwise(places)]


def test_a_frame_is_what_stands_before_a_terminator_with_the_time_of_its_last_byte() -> None:
    framer = LineFramer(framing())
    assert framer.feed(b"+000.1", 10) == []
    assert framer.feed(b"90\r", 20) == []
    assert framer.feed(b"\n-000.080\r\n+0", 30) == [Frame(b"+000.190", 30), Frame(b"-000.080", 30)]


@given(pieces=cut_streams(), terminator=terminators, hunting=st.booleans())
def test_wherever_a_stream_is_cut_the_frames_are_the_same(
    pieces: list[bytes], terminator: str, hunting: bool
) -> None:
    stream = b"".join(pieces)
    whole = LineFramer(framing(terminator), hunting=hunting)
    cut = LineFramer(framing(terminator), hunting=hunting)
    single = LineFramer(framing(terminator), hunting=hunting)
    frames = whole.feed(stream, 0)
    assert [frame for piece in pieces for frame in cut.feed(piece, 0)] == frames
    assert [frame for byte in stream for frame in single.feed(bytes([byte]), 0)] == frames
    assert cut.statistics() == whole.statistics() == single.statistics()
    expected = stream.split(terminator.encode())[hunting:-1] if terminator.encode() in stream else []
    assert [frame.data for frame in frames] == [data for data in expected if len(data) <= 12]


@given(pieces=cut_streams(), terminator=terminators, hunting=st.booleans())
def test_every_byte_is_accounted_for(pieces: list[bytes], terminator: str, hunting: bool) -> None:
    framer = LineFramer(framing(terminator), hunting=hunting)
    handed_out = sum(len(frame.data) for piece in pieces for frame in framer.feed(piece, 0))
    ends = b"".join(pieces).count(terminator.encode()) * len(terminator)
    framer.restart()
    statistics = framer.statistics()
    assert statistics.bytes_in == sum(map(len, pieces))
    assert statistics.bytes_in == handed_out + ends + statistics.bytes_discarded


def test_a_line_without_end_does_not_fill_the_memory_and_the_next_frame_is_whole() -> None:
    framer = LineFramer(framing())
    for _ in range(1000):
        assert framer.feed(b"garbage" * 10, 0) == []
    assert framer.statistics().bytes_discarded > 69_900
    assert framer.feed(b"\r\n+000.190\r\n", 0) == [Frame(b"+000.190", 0)]
    assert framer.statistics().overlong == 1


def test_hunting_throws_away_what_may_be_half_a_frame() -> None:
    framer = LineFramer(framing(), hunting=True)
    assert framer.feed(b"0.190\r\n+000.190\r\n", 0) == [Frame(b"+000.190", 0)]
    assert framer.statistics().bytes_discarded == 5
    assert framer.lost == 0


def test_a_frame_cut_by_a_pause_is_not_glued_to_what_follows() -> None:
    framer = LineFramer(framing())
    assert framer.feed(b"+00", 0) == []
    assert framer.feed(b"1.234\r\n", SECOND_NS) == [Frame(b"1.234", SECOND_NS)]
    assert framer.statistics().halves == 1
    assert framer.statistics().bytes_discarded == 3


def test_a_free_running_line_is_read_from_the_next_terminator_on_after_such_a_pause() -> None:
    framer = LineFramer(framing(), hunting=True)
    framer.feed(b"\r\n+00", 0)
    assert framer.feed(b"1.234\r\n+000.190\r\n", SECOND_NS) == [Frame(b"+000.190", SECOND_NS)]
    assert framer.lost == 1


def test_a_slow_line_within_the_pause_is_one_frame() -> None:
    framer = LineFramer(framing())
    frames = [f for n, b in enumerate(b"+000.190\r\n") for f in framer.feed(bytes([b]), n * SECOND_NS // 2)]
    assert frames == [Frame(b"+000.190", 9 * SECOND_NS // 2)]


def test_a_restart_forgets_half_a_frame_and_counts_it() -> None:
    framer = LineFramer(framing())
    framer.feed(b"+000.19", 0)
    framer.restart()
    assert framer.feed(b"0\r\n", 1) == [Frame(b"0", 1)]
    assert (framer.statistics().halves, framer.lost) == (1, 1)
    framer.restart()
    assert framer.lost == 1


def test_a_snapshot_cannot_be_written_to() -> None:
    with pytest.raises(AttributeError):
        LineFramer(framing()).statistics().frames = 1  # type: ignore[misc]
