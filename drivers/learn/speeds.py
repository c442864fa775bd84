"""With which settings of a port an unknown gauge is listened to, and which of them may be right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Literal

from config.profile import SerialPort
from drivers.capture import Piece
from drivers.learn.cutting import cuts
from drivers.learn.heard import Hearing, Step

# Speeds in the order in which they are tried: the commonest first.
BAUDS = (9600, 115_200, 19_200, 57_600, 38_400, 4800, 2400, 1200)
# Of the bytes of a text so many are letters, or end lines: the first may be garbage.
TEXT_SHARE, LEAST_BYTES = 0.9, 12
# At the right speed so many bytes at least have a bit that differs from both beside it.
LONE_SHARE = 0.1


def settings() -> Iterator[SerialPort]:
    """All that are tried. Seven bits need none of their own: with eight the parity stands in the eighth."""
    for parity in ("none", "even"):
        for baud in BAUDS:
            yield SerialPort.model_validate({"baud": baud, "parity": parity})


def asking_settings() -> Iterator[SerialPort]:
    """All with which a gauge is asked: it hears a request only with its own."""
    for size, parity in ((8, "none"), (7, "even"), (7, "odd"), (8, "even")):
        for baud in BAUDS:
            yield SerialPort.model_validate({"baud": baud, "bytesize": size, "parity": parity})


def likely(hearings: Sequence[Hearing]) -> set[int]:
    """The speeds that may be right, of hearings at several: heard too quickly, no bit stands alone.

    At twice the speed or more every bit of the line is sampled twice at least, so that the right speed is the
    quickest at which single bits come, or the next where two are less than twice apart.
    """
    told = {
        hearing.port.baud
        for hearing in hearings
        if sum(map(_has_lone_bit, hearing.data)) > LONE_SHARE * len(hearing.data)
    }
    return set(sorted(told)[-2:]) or {hearing.port.baud for hearing in hearings}


def _has_lone_bit(byte: int) -> bool:
    """Whether a bit of it or its start bit differs from both beside it; the last of them may be cut."""
    edges = (byte << 1 ^ byte) & 0xFF  # between each bit and the one before it, of the start bit, 0, first
    return bool(edges & 1 or edges & edges >> 1)


def is_text(data: bytes) -> bool:
    """Whether it reads as lines with digits in them."""
    letters = sum(0x20 <= byte < 0x7F or byte in b"\r\n\x02\x03" for byte in data)
    figures = sum(byte in b"0123456789" for byte in data)
    ends = sum(byte in b"\r\n\x03" for byte in data)
    return (
        len(data) >= LEAST_BYTES
        and letters >= TEXT_SHARE * len(data)
        and figures * 5 > len(data)
        and ends > 1
    )


def with_seven_bits(hearing: Hearing) -> Iterator[Hearing]:
    """As it was heard, and where every eighth bit is the parity of the others, as seven bits with parity."""
    yield hearing
    data = hearing.data
    if hearing.port.parity != "none" or not any(byte & 0x80 for byte in data):
        return
    odd = sum(byte.bit_count() % 2 for byte in data)
    parity: Literal["none", "even", "odd"] | None = None
    if odd <= len(data) * (1 - TEXT_SHARE):
        parity = "even"
    elif odd >= len(data) * TEXT_SHARE:
        parity = "odd"
    elif sum(byte >> 7 for byte in data) >= len(data) * TEXT_SHARE:
        parity = "none"
    if parity is not None:
        own = {"bytesize": 7, "parity": parity, "stopbits": 2 if parity == "none" else 1}
        yield Hearing(hearing.port.model_copy(update=own), [_low(step) for step in hearing.steps])


def could_be(hearing: Hearing) -> bool:
    """Whether there are frames in it at all."""
    return any(True for one in with_seven_bits(hearing) for _ in cuts(one))


def _low(step: Step) -> Step:
    return replace(
        step,
        pieces=[
            Piece(piece.time_ns, bytes(byte & 0x7F for byte in piece.data), piece.early_ns)
            for piece in step.pieces
        ],
    )
