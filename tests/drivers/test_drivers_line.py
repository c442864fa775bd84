"""Lines: what the suite of all framings does not ask."""

from __future__ import annotations

import itertools

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


def test_hunting_throws_away_what_may_be_half_a_frame() -> None:
    framer = LineFramer(framing(), hunting=True)
    assert framer.feed(b"0.190\r\n+000.190\r\n", 0) == [Frame(b"+000.190", 0)]
    assert framer.statistics().bytes_discarded == 5
    assert framer.lost == 0


def test_a_free_running_line_is_read_from_the_next_terminator_on_after_such_a_pause() -> None:
    framer = LineFramer(framing(), hunting=True)
    framer.feed(b"\r\n+00", 0)
    assert framer.feed(b"1.234\r\n+000.190\r\n", SECOND_NS) == [Frame(b"+000.190", SECOND_NS)]
    assert framer.lost == 1
