from __future__ import annotations

import itertools
import random

from hypothesis import given
from hypothesis import strategies as st

from config.profile import Latency, PatternValue, WireUnit
from contract.units import Unit
from drivers.assembly import Assembler
from drivers.encoding import encode
from drivers.reading import Reading
from tests.drivers.support import free_running, profile

MM = free_running()
KEY = profile("line-key-mm")


def test_a_reading_carries_gauge_number_time_and_value() -> None:
    assembler = Assembler("rim-1", KEY)
    assert assembler.feed(b"+000.190\r-000.080\r", 5) == [
        Reading("rim-1", 0, 5, 190_000, Unit.NM),
        Reading("rim-1", 1, 5, -80_000, Unit.NM),
    ]


def test_the_stated_latency_is_taken_off_the_stamp() -> None:
    kind = KEY.model_copy(update={"latency": Latency(latency_s=0.0125, u_s=0.001)})
    (reading,) = Assembler("rim-1", kind).feed(b"+000.190\r", 1_000_000_000)
    assert reading.time_ns == 987_500_000


def test_a_free_running_gauge_is_read_from_its_first_terminator_on() -> None:
    assembler = Assembler("rim-1", MM)
    assert [r.value for r in assembler.feed(b"+000.1\r\n+000.190\r\n", 0)] == [190_000]
    assert assembler.statistics().bytes_discarded == 6


def test_a_rejected_frame_leaves_a_hole_in_the_numbers() -> None:
    assembler = Assembler("rim-1", KEY)
    readings = assembler.feed(b"+000.001\r+000.0\xb02\r+000.003\r", 0)
    assert [(r.seq, r.value) for r in readings] == [(0, 1_000), (2, 3_000)]
    assert assembler.last_rejected == b"+000.0\xb02"
    statistics = assembler.statistics()
    assert (statistics.frames, statistics.readings, statistics.rejected) == (3, 2, 1)


def test_so_do_half_frames_long_ones_and_lost_bytes() -> None:
    assembler = Assembler("rim-1", KEY)
    assembler.feed(b"+000.0", 0)
    assembler.restart()
    assert [r.seq for r in assembler.feed(b"+000.001\r", 0)] == [1]
    assert [r.seq for r in assembler.feed(b"x" * 40 + b"\r+000.001\r", 0)] == [3]
    assembler.lose(500)
    assert [r.seq for r in assembler.feed(b"1.001\r+000.001\r", 0)] == [5]
    statistics = assembler.statistics()
    assert (statistics.halves, statistics.overlong, statistics.bytes_lost) == (1, 1, 500)
    assert statistics.bytes_discarded == 6 + 40 + 5


@given(
    values=st.lists(st.integers(-999, 999), min_size=1, max_size=40),
    seed=st.integers(0, 2**32),
)
def test_cut_anywhere_or_byte_by_byte_the_readings_are_the_same(values: list[int], seed: int) -> None:
    stream = b"\r\n" + b"".join(encode(1000 * value, MM) for value in values)
    generator = random.Random(seed)
    places = [0, *sorted(generator.choices(range(len(stream)), k=10)), len(stream)]
    pieces = [stream[a:b] for a, b in itertools.pairwise(places)]
    whole, cut, single = (Assembler("rim-1", MM) for _ in range(3))
    readings = whole.feed(stream, 0)
    assert [reading.value for reading in readings] == [1000 * value for value in values]
    assert [reading.seq for reading in readings] == list(range(len(values)))
    assert [r for piece in pieces for r in cut.feed(piece, 0)] == readings
    assert [r for byte in stream for r in single.feed(bytes([byte]), 0)] == readings


@given(
    pieces=st.lists(st.sampled_from([b"+000.19", b"0\r\n", b"\r\n", b"\xff", b"+000.190\r\n", b"y" * 30])),
    restarts=st.sets(st.integers(0, 20)),
)
def test_nothing_is_lost_uncounted(pieces: list[bytes], restarts: set[int]) -> None:
    assembler = Assembler("rim-1", MM)
    readings: list[Reading] = []
    for number, piece in enumerate(pieces):
        if number in restarts:
            assembler.restart()
        readings += assembler.feed(piece, number)
    statistics = assembler.statistics()
    assert statistics.frames == statistics.readings + statistics.rejected
    assert statistics.readings == len(readings)
    if readings:
        holes = readings[-1].seq + 1 - len(readings)
        assert holes <= statistics.rejected + statistics.overlong + statistics.halves
    assert all(reading.value == 190_000 for reading in readings)


def test_an_index_is_told_once_however_long_its_bit_stays_and_over_rejected_frames() -> None:
    value = PatternValue(
        pattern=r"(?P<value>[+-]\d{3})(?P<index>[ *])", template="{:+04.0f} ", unit=WireUnit.COUNT
    )
    assembler = Assembler("encoder-1", KEY.model_copy(update={"value": value}))
    readings = assembler.feed(b"+001 \r+002*\r+003*\r", 5) + assembler.feed(
        b"+004*\r+0x5 \r+006*\r+007 \r+008*\r", 6
    )
    assert [(r.seq, r.index) for r in readings] == [
        (0, False), (1, True), (2, False), (3, False), (5, False), (6, False), (7, True)
    ]  # fmt: skip
    assert Reading("e", 0, 0, 0, Unit.COUNT).index is False
