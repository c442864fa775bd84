"""What a line does to bytes on their way: each fault is a pure wrapper of a stream.

A stream is an iterable of (time_ns, bytes), times never falling; chance comes from the generator
handed in. A chunk that goes in is a whole frame unless another fault has cut it before.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence

Chunk = tuple[int, bytes]
Stream = Iterable[Chunk]

# One byte on the wire at 9600 baud, 8N1: ten bits.
BYTE_NS_9600 = 1_041_667

# Bytes that line noise is made of, terminators among them.
NOISE_BYTES = bytes(range(256))


def bytewise(stream: Stream, byte_ns: int = BYTE_NS_9600) -> Iterator[Chunk]:
    """One byte at a time, the last one when the whole frame would have come."""
    last_ns = 0
    for time_ns, data in stream:
        for place in range(len(data)):
            last_ns = max(last_ns, time_ns - (len(data) - 1 - place) * byte_ns)
            yield last_ns, data[place : place + 1]


def split(stream: Stream, rng: random.Random, byte_ns: int = BYTE_NS_9600) -> Iterator[Chunk]:
    """Each frame cut in two anywhere, the second part when the whole frame would have come."""
    last_ns = 0
    for time_ns, data in stream:
        cut = rng.randint(0, len(data))
        if data[:cut]:
            last_ns = max(last_ns, time_ns - (len(data) - cut) * byte_ns)
            yield last_ns, data[:cut]
        if data[cut:]:
            last_ns = max(last_ns, time_ns)
            yield last_ns, data[cut:]


def delayed(stream: Stream, rng: random.Random, most_ns: int) -> Iterator[Chunk]:
    """Each frame late by up to `most_ns`, never overtaking the one before."""
    last_ns = 0
    for time_ns, data in stream:
        last_ns = max(last_ns, time_ns + rng.randint(0, most_ns))
        yield last_ns, data


def lossy(stream: Stream, rng: random.Random, byte_share: float) -> Iterator[Chunk]:
    """Single bytes lost, each with the same chance: half frames and frames run together."""
    for time_ns, data in stream:
        kept = bytes(byte for byte in data if rng.random() >= byte_share)
        if kept:
            yield time_ns, kept


def doubled(stream: Stream, after_ns: int = 0) -> Iterator[Chunk]:
    """Each frame sent twice, the second `after_ns` later (less than the gauge's period)."""
    for time_ns, data in stream:
        yield time_ns, data
        yield time_ns + after_ns, data


def stuck(stream: Stream, spells: Sequence[tuple[int, int]]) -> Iterator[Chunk]:
    """Within the spells [from, to) the last frame before is sent again and again."""
    last = b""
    for time_ns, data in stream:
        if not _within(spells, time_ns):
            last = data
        yield time_ns, last or data


def garbage(stream: Stream, rng: random.Random, share: float, most_bytes: int = 12) -> Iterator[Chunk]:
    """Before a share of the frames, 1 to `most_bytes` bytes of noise."""
    for time_ns, data in stream:
        if rng.random() < share:
            noise = bytes(rng.choice(NOISE_BYTES) for _ in range(rng.randint(1, most_bytes)))
            yield time_ns, noise
        yield time_ns, data


def unplugged(stream: Stream, spells: Sequence[tuple[int, int]]) -> Iterator[Chunk]:
    """Nothing within the spells [from, to); the first frame of each comes through by half."""
    cut: set[tuple[int, int]] = set()
    for time_ns, data in stream:
        spell = _within(spells, time_ns)
        if spell is None:
            yield time_ns, data
        elif spell not in cut:
            cut.add(spell)
            yield time_ns, data[: len(data) // 2]


def _within(spells: Sequence[tuple[int, int]], time_ns: int) -> tuple[int, int] | None:
    return next((spell for spell in spells if spell[0] <= time_ns < spell[1]), None)
