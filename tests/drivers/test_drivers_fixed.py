"""Frames of one length: what the suite of all framings does not ask."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from config.profile import FixedFraming
from drivers.framings import Frame, framer

SECOND_NS = 1_000_000_000
STARTED = FixedFraming(kind="fixed", length=4, start_byte=0xFA)
PAUSED = FixedFraming(kind="fixed", length=3, max_pause_s=0.05)


def test_a_start_byte_that_comes_early_tells_of_a_frame_cut_short() -> None:
    cutter = framer(STARTED)
    assert cutter.feed(b"\xfa12\xfa123", 5) == [Frame(b"123", 5)]
    assert (cutter.statistics().halves, cutter.statistics().bytes_discarded) == (1, 3)


def test_bytes_between_two_frames_tell_of_one_frame_lost() -> None:
    cutter = framer(STARTED)
    assert cutter.split(b"\xfa123", 0) == [b"123"]
    for byte in b"4567":  # its start byte was lost; however its bytes come, it is one
        assert cutter.split(bytes([byte]), 0) == []
    assert cutter.split(b"\xfa890", 0) == [b"890"]
    assert (cutter.lost, cutter.statistics().bytes_discarded) == (1, 4)


def test_start_bits_are_not_data() -> None:
    cutter = framer(FixedFraming(kind="fixed", length=3, start_byte=0x80, start_mask=0x80))
    assert cutter.wrap(b"\x01\x02\x03") == b"\x81\x02\x03"
    assert cutter.split(b"\x81\x02\x03\x02\x8f\x7f\x00", 0) == [b"\x01\x02\x03", b"\x0f\x7f\x00"]


def test_without_a_start_byte_a_stream_is_read_from_its_first_pause_on() -> None:
    cutter = framer(PAUSED, hunting=True)
    assert cutter.split(b"23123123", 0) == []
    assert cutter.split(b"123", SECOND_NS) == [b"123"]
    assert cutter.split(b"45", SECOND_NS) == []
    # After a pause that cut a frame too: what comes then begins one.
    assert cutter.split(b"456", 2 * SECOND_NS) == [b"456"]
    assert cutter.lost == 1


def test_when_bytes_were_dropped_a_stream_without_start_bytes_waits_for_a_pause() -> None:
    cutter = framer(PAUSED)
    assert cutter.split(b"1231", 0) == [b"123"]
    cutter.restart(hunting=True)
    assert cutter.split(b"3123123", 1) == []
    assert cutter.split(b"456", SECOND_NS) == [b"456"]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"length": 6}, "start_byte, or max_pause_s"),
        ({"length": 6, "max_pause_s": 0.1, "start_mask": 0xF0}, "start_byte, as there is a start_mask"),
        ({"length": 6, "start_byte": 0xFA, "start_mask": 0xF0}, "no bit outside start_mask"),
        ({"length": 1, "start_byte": 0xFA}, "greater than or equal to 2"),
        ({"length": 6, "start_byte": 0x1FA}, "less than or equal to 255"),
    ],
)
def test_what_cannot_be_meant_is_refused(given: dict[str, float], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        FixedFraming.model_validate({"kind": "fixed", **given})
