"""With which settings of a port an unknown gauge is listened to, and which of them may be right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Literal

from config.profile import SerialPort
from drivers.capture import Piece
from drivers.learn.heard import Hearing, Step

# Speeds in the order in which they are tried: the commonest first.
BAUDS = (9600, 115_200, 19_200, 57_600, 38_400, 4800, 2400, 1200)
# Of the bytes of a text so many are letters, or end lines: the first may be garbage.
TEXT_SHARE, LEAST_BYTES = 0.9, 12
# Speeds that are so far apart are told by their single bits; with some room, as a clock may be off by 2 %.
TWICE = 1.9
# As what a byte is handed on that came with a wrong parity or stop bit.
ERROR = b"\0"
# At the right speed so many bytes at least have a bit that differs from both beside it.
LONE_SHARE = 0.1

Parity = Literal["none", "even", "odd"]


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


def next_speed(told: Mapping[int, bool], speeds: Sequence[int]) -> int | None:
    """Which of the speeds is listened to next, given whether single bits came at those that were; None where
    the right one is among them.

    Heard too quickly, no bit stands alone: at twice the speed or more every bit of the line is sampled twice
    at least. So the right speed is the quickest at which single bits come, or the next where two are less
    than twice apart. The first is the commonest, for the sake of text; then down from the top, as what is
    heard too slowly may look like anything.
    """
    if not told:
        return speeds[0]
    for baud in sorted(speeds, reverse=True):
        if baud not in told:
            return baud
        if told[baud]:
            return next((near for near in speeds if near < baud < TWICE * near and near not in told), None)
    return None


def likely(told: Mapping[int, bool]) -> list[int]:
    """The speeds that may be right, the likeliest first."""
    lone = sorted((baud for baud, has_lone in told.items() if has_lone), reverse=True)
    return [baud for baud in lone[:2] if baud * TWICE > lone[0]] or sorted(told)


def has_lone_bits(heard: Sequence[bytes]) -> bool:
    """Whether single bits came, in bursts of bytes: at the right speed some always do."""
    data = _whole(heard).replace(ERROR, b"")
    return sum(map(_has_lone_bit, data)) > LONE_SHARE * len(data)


def errors(heard: Sequence[bytes]) -> float:
    """The share of bytes that may be errors: with the wrong parity about half of them are."""
    data = _whole(heard)
    return data.count(ERROR) / len(data) if data else 1.0


def _whole(heard: Sequence[bytes]) -> bytes:
    """Without the first burst, which may be cut, and have noise before it."""
    return b"".join(heard[1:] or heard)


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
    if not isinstance(hearing.port, SerialPort):
        return
    if hearing.port.parity != "none" or not any(byte & 0x80 for byte in data):
        return
    odd = sum(byte.bit_count() % 2 for byte in data)
    parity: Parity | None = None
    if odd <= len(data) * (1 - TEXT_SHARE):
        parity = "even"
    elif odd >= len(data) * TEXT_SHARE:
        parity = "odd"
    elif sum(byte >> 7 for byte in data) >= len(data) * TEXT_SHARE:
        parity = "none"
    if parity is not None:
        own = {"bytesize": 7, "parity": parity, "stopbits": 2 if parity == "none" else 1}
        yield Hearing(hearing.port.model_copy(update=own), [_low(step) for step in hearing.steps])


def _low(step: Step) -> Step:
    return replace(
        step,
        pieces=[
            Piece(piece.time_ns, bytes(byte & 0x7F for byte in piece.data), piece.early_ns)
            for piece in step.pieces
        ],
    )
