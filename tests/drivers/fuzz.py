"""Lines that break in every way, without end, for each kind of framing.

    .venv-test/bin/python -m tests.drivers.fuzz [--bytes 10000000] [--seed N]

Frames that are sent, each with data of its own, among noise, lost, turned and inserted bytes, cut and glued
frames, pauses and restarts. Held against what was sent: no exception; bounded memory; of a framing with a
check no more frames that were not sent than chance lets pass; in step again by the second whole frame after a
pause. That every byte is accounted for the laws in test_drivers_framings.py say.
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from config.profile import Check, CheckedFraming, Framing, LineFraming, PacketFraming, SumCheck
from drivers.framings import framer
from tests.drivers.test_drivers_framings import KINDS, LENGTH

# Bytes of one spell of fuzz, about, after which it is looked whether the framer is in step again.
SPELL_BYTES = 4_000
SECOND_NS = 10**9
DIGITS = 10**LENGTH
WIDTHS = (12, 11, 11, 11, 8, 6, 6, 7)


@dataclass
class Told:
    """sent, passed: frames that were sent, whole or not, and handed out. never_sent: handed out and not sent;
    may: how many of them a check of so many bits lets through by chance, four standard deviations allowed."""

    bytes_in: int = 0
    sent: int = 0
    passed: int = 0
    never_sent: int = 0
    may: float = 0.0
    largest_kept: int = 0
    late: int = 0
    """Spells after which a frame more than the first was missed."""


def broken(rng: random.Random, wrap: bytes, other: bytes) -> bytes:
    """A frame as a bad line hands it on; as often whole."""
    at = rng.randrange(len(wrap) + 1)
    match rng.randrange(9):
        case 0:
            return wrap[:at]
        case 1:
            return wrap[at:]
        case 2:
            return wrap[:at] + wrap[at + 1 :]
        case 3:
            return wrap[:at] + rng.randbytes(rng.randint(1, 12)) + wrap[at:]
        case 4:
            bad = bytearray(wrap)
            bad[at % len(wrap)] ^= 1 << rng.randrange(8)
            return bytes(bad)
        case 5:
            return wrap[at:] + wrap[:at]
        case 6:
            return wrap[:at] + other[rng.randrange(len(other)) :]
        case 7:
            return rng.randbytes(rng.randint(1, 3 * len(wrap)))
        case _:
            return wrap


def _check(kind: Framing) -> Check | None:
    return kind.check if isinstance(kind, CheckedFraming | PacketFraming) else None


def data_for(rng: random.Random, kind: Framing) -> bytes:
    """Any where there is a check: of a few letters it tells less. Else such as may stand there."""
    if _check(kind) is not None:
        return rng.randbytes(LENGTH)
    return b"%0*d" % (LENGTH, rng.randrange(DIGITS))


def spell(rng: random.Random, kind: Framing) -> Iterator[tuple[bytes, set[bytes]]]:
    """Pieces of some four thousand bytes, with the frames that are whole in what they are made of."""
    wrap = framer(kind).wrap
    left = SPELL_BYTES
    while left > 0:
        data, whole = b"", set()
        for _ in range(rng.randint(1, 6)):
            sent, other = data_for(rng, kind), data_for(rng, kind)
            part = broken(rng, wrap(sent), wrap(other))
            whole |= {sent, other}
            data += part
        left -= len(data)
        yield data, whole


def fuzzed(kind: Framing, least: int, seed: int) -> Told:
    rng, told = random.Random(seed), Told()
    cutter: Any = framer(kind, hunting=rng.random() < 0.5)
    recent: set[bytes] = set()
    now_ns = 0
    while told.bytes_in < least:
        recent.clear()
        for data, whole in spell(rng, kind):
            recent |= whole
            told.sent += len(whole)
            for at in range(0, len(data), step := rng.choice((1, 3, 64))):
                now_ns += rng.choice((10**6, 10**6, 10**6, SECOND_NS))
                frames = cutter.split(data[at : at + step], now_ns)
                told.passed += len(frames)
                told.never_sent += sum(frame not in recent for frame in frames)
            told.bytes_in += len(data)
            if rng.random() < 0.02:
                cutter.restart(hunting=rng.random() < 0.5)
            told.largest_kept = max(told.largest_kept, len(cutter._rest))
        now_ns += 2 * SECOND_NS
        after = [b"%0*d" % (LENGTH, n) for n in range(3)]
        heard = [one for frame in after for one in cutter.split(cutter.wrap(frame), now_ns)]
        told.passed += len(heard)
        told.late += heard not in (after, after[1:])
        told.bytes_in += 3 * len(cutter.wrap(after[0]))
    if (check := _check(kind)) is not None:
        # Every place may begin a frame where there is no start byte, and one in 256 where there is one.
        # A sum of a few bytes has hardly more than eight bits, however many are sent.
        bits = 8 if isinstance(check, SumCheck) else check.bits
        mean = told.bytes_in / 2**bits / (256 if getattr(kind, "start_byte", None) is not None else 1)
        told.may = mean + 4 * mean**0.5 + 4
    return told


def bound(kind: Framing) -> int:
    """Bytes that a framer may keep of a frame; of a packet each may be written as two."""
    if isinstance(kind, PacketFraming):
        return 2 * kind.max_bytes + 1
    return framer(kind).marks_bytes + (kind.max_bytes if isinstance(kind, LineFraming) else LENGTH)


def main() -> None:
    parser = argparse.ArgumentParser(description="Fuzzes every kind of framing, and prints what came of it.")
    parser.add_argument("--bytes", type=int, default=10_000_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    heads = zip(("bytes", "sent", "passed", "not sent", "may", "kept", "late", "s"), WIDTHS, strict=True)
    print(" " * 24 + "".join(f"{head:>{width}}" for head, width in heads))
    for name, kind in KINDS.items():
        began_s = time.process_time()
        told = fuzzed(kind, asked.bytes, asked.seed)
        spent_s = time.process_time() - began_s
        counted = (told.bytes_in, told.sent, told.passed, told.never_sent, told.may)
        figures = zip((*counted, told.largest_kept, told.late, spent_s), WIDTHS, strict=True)
        print(f"{name:24}" + "".join(f"{one:>{width},.0f}" for one, width in figures), flush=True)


if __name__ == "__main__":
    main()
