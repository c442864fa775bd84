"""Bytes that came wrong: as the kernel marks them, and what becomes of their frames."""

from __future__ import annotations

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.profile import PlainDevice, SerialPort
from drivers.assembly import Assembler
from drivers.transports import close_port, open_port
from drivers.transports.marks import ErrorMarks, mark_errors
from simulators.port import PtyPort
from tests.drivers.support import MemoryPort, profile

WRONG = None


def marked(line: list[int | None]) -> bytes:
    """As termios(3) says of PARMRK."""
    return b"".join(
        b"\xff\x00x" if byte is WRONG else b"\xff\xff" if byte == 0xFF else bytes([byte]) for byte in line
    )


@given(line=st.lists(st.sampled_from([WRONG, 0xFF, 0x00, 0x30]) | st.integers(0, 255)), data=st.data())
def test_marks_are_taken_out_wherever_the_stream_is_cut(line: list[int | None], data: st.DataObject) -> None:
    stream, marks = marked(line), ErrorMarks()
    places = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=6)))
    pieces = [
        piece
        for a, b in zip([0, *places], [*places, len(stream)], strict=True)
        for piece in marks.taken(stream[a:b])
    ]
    heard: list[int | None] = []
    for wrong, good in pieces:
        heard += [WRONG] * wrong + list(good)
    assert heard == line


@pytest.mark.parametrize("name", ["line-mm", "digits-mm", "binary-mm", "burst-mm"])
def test_a_frame_with_a_wrong_byte_is_none_and_leaves_a_hole(name: str) -> None:
    kind = profile(name)
    assembler, values = Assembler("g", kind), kind.proof[0].values[:1]
    frame = kind.proof[0].wire[: len(kind.proof[0].wire) // len(kind.proof[0].values)]
    before = assembler.feed(b"\r\n" * (name == "line-mm") + frame, 0)
    for at in range(len(frame)):
        now_ns = (3 * at + 3) * 10**9
        assembler.feed(frame[:at], now_ns)
        assembler.spoil(1)
        assert assembler.feed(frame[at + 1 :], now_ns) == []
        (after,) = assembler.feed(frame, now_ns + 10**9) or assembler.feed(frame, now_ns + 10**9)
        assert (after.value,) == values
        assert after.seq > before[-1].seq + 1 if before else True
        before = [after]
    assert assembler.statistics().bytes_wrong == len(frame)


def test_a_serial_port_of_this_machine_is_asked_to_mark_them(pty: PtyPort) -> None:
    """A pseudo-terminal has no wrong bytes; that it doubles 0xFF shows that they would be marked."""
    port = open_port(str(pty.path), SerialPort())
    try:
        marks = mark_errors(port, SerialPort())
        assert marks is not None
        pty.write(b"\xa5\xff\x00\xff\xff1")
        raw = b""
        while not raw.endswith(b"1"):
            raw += os.read(port.fileno(), 64)
        assert raw == b"\xa5\xff\xff\x00\xff\xff\xff\xff1"
        assert marks.taken(raw) == [(0, b"\xa5\xff\x00\xff\xff1")]
    finally:
        close_port(port)


def test_elsewhere_nobody_can_tell_them() -> None:
    assert mark_errors(MemoryPort(), SerialPort()) is None
    assert mark_errors(MemoryPort(), PlainDevice(kind="plain")) is None
