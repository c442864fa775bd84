"""Which check, if any, frames of one length end in.

The parameters are those of the catalogue of parametrised CRC algorithms; each is proved by its check value in
the tests. By chance a check of one byte holds for all of so many different frames once in 256 to the power of
their number, and some thirty are tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from functools import cache
from itertools import product
from typing import Any

from pydantic import ValidationError

from config.profile import CheckedFraming, CrcCheck, PacketFraming, SumCheck, XorCheck, wire_bytes
from drivers.framings.checks import check_of

# Width, polynomial, initial, reflected, final.
CRCS: tuple[tuple[int, int, int, bool, int], ...] = (
    (8, 0x07, 0x00, False, 0x00),
    (8, 0x31, 0x00, True, 0x00),
    (16, 0x8005, 0xFFFF, True, 0x0000),
    (16, 0x8005, 0x0000, True, 0x0000),
    (16, 0x1021, 0x0000, False, 0x0000),
    (16, 0x1021, 0xFFFF, False, 0x0000),
    (16, 0x1021, 0x0000, True, 0x0000),
    (32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
)
# Different frames, times bits of the check: fewer prove nothing.
PROOF_BITS = 48
# The share of them for which it must hold: some may be cut, or be garbage.
HOLDING = 0.9
# A pause within a frame, at least: so long may a slow gauge think in the middle of one.
LINE_PAUSE_S = 0.5
# What reports of a fixed length are filled up with.
FILLING = 0

Tried = SumCheck | XorCheck | CrcCheck


def checked(frames: Sequence[bytes], pause_s: float) -> Iterator[CheckedFraming]:
    """The framings whose check holds for these frames, which are of one length.

    pause_s: shorter than the pause between two of them, which alone tells where a frame begins that has a
    check of a ring.
    """
    for check, start in _holding(frames):
        with suppress(ValidationError):
            yield CheckedFraming(
                kind="checked",
                length=len(frames[0]),
                start_byte=start,
                check=check,
                max_pause_s=pause_s if check.is_of_a_ring else LINE_PAUSE_S,
            )


def packets_checked(packets: Sequence[bytes]) -> Iterator[PacketFraming]:
    """The framings of packets whose check holds for these, which are of one length: at their end, or before
    what fills them up."""
    behind = 0
    while behind < len(packets[0]) and all(packet[-1 - behind] == FILLING for packet in packets):
        behind += 1
    for left in dict.fromkeys((behind, 0)):
        found = list(_holding([packet[: len(packet) - left] for packet in packets]))
        # Over all of a packet it needs no start byte, which may be the upper end of a number; or is no digit.
        whole = [(check, start) for check, start in found if start is None or check.covers == "frame"]
        bare = [(check.model_copy(update={"covers": "data"}), None) for check, _ in whole]
        for check, start in dict.fromkeys([*bare, *(whole or found)]):
            with suppress(ValidationError):
                yield PacketFraming(
                    kind="packet", max_bytes=len(packets[0]), start_byte=start, check=check, behind=left
                )


def _holding(frames: Sequence[bytes]) -> Iterator[tuple[Tried, int | None]]:
    """Each check that holds, and what all frames begin with."""
    different = sorted(set(frames))
    if not different:
        return
    start = different[0][0] if len({frame[:1] for frame in different}) == 1 and different[0] else None
    for check, made in _tried():
        if len(different) * check.bits < PROOF_BITS or (start is None and check.covers == "frame"):
            continue
        end = len(different[0]) - wire_bytes(check)
        first = 0 if check.covers == "frame" else int(start is not None)
        if end <= first:
            continue
        right = sum(made(frame[first:end]) == frame[end:] for frame in different)
        if right * check.bits >= PROOF_BITS and right >= HOLDING * len(different):
            yield check, start


@cache
def _tried() -> tuple[tuple[Tried, Callable[[bytes], bytes]], ...]:
    """All of them, each with what makes it: the tables of a CRC take a millisecond."""
    return tuple((check, check_of(check)) for check in _every())


def _every() -> Iterator[Tried]:
    for covers, form in product(("data", "frame"), ("bytes", "hex")):
        yield XorCheck.model_validate({"kind": "xor", "covers": covers, "form": form})
        for negated in (False, True):
            for how in _orders(8, covers, form):
                yield SumCheck.model_validate({"kind": "sum", "negated": negated, "bits": 8} | how)
            for how in _orders(16, covers, form):
                yield SumCheck.model_validate({"kind": "sum", "negated": negated, "bits": 16} | how)
        for bits, polynomial, initial, reflected, final_xor in CRCS:
            own = {"bits": bits, "polynomial": polynomial, "initial": initial}
            for how in _orders(bits, covers, form):
                yield CrcCheck.model_validate(
                    {"kind": "crc", "reflected": reflected, "final_xor": final_xor} | own | how
                )


def _orders(bits: int, covers: str, form: str) -> Iterator[dict[str, Any]]:
    for order in ("high-first", "low-first")[: 1 if bits == 8 else 2]:
        yield {"covers": covers, "form": form, "order": order}
