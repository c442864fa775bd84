from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators import faults
from simulators.faults import Chunk, Stream

FRAMES: list[Chunk] = [(20_000_000 * n, b"%+07d\r\n" % (n * 11)) for n in range(1, 101)]
WIRE = b"".join(data for _, data in FRAMES)
HOLE = [(1_000_000_000, 1_200_000_000)]

ALL: dict[str, Callable[[Stream, random.Random], Iterator[Chunk]]] = {
    "bytewise": lambda stream, rng: faults.bytewise(stream),
    "split": faults.split,
    "delayed": lambda stream, rng: faults.delayed(stream, rng, 50_000_000),
    "lossy": lambda stream, rng: faults.lossy(stream, rng, 0.02),
    "doubled": lambda stream, rng: faults.doubled(stream, 1_000_000),
    "stuck": lambda stream, rng: faults.stuck(stream, HOLE),
    "garbage": lambda stream, rng: faults.garbage(stream, rng, 0.2),
    "unplugged": lambda stream, rng: faults.unplugged(stream, HOLE),
}


def through(name: str, seed: int = 5) -> list[Chunk]:
    return list(ALL[name](iter(FRAMES), random.Random(seed)))


@pytest.mark.parametrize("name", ALL)
def test_time_never_falls_and_no_chunk_is_empty(name: str) -> None:
    chunks = through(name)
    assert all(data for _, data in chunks)
    assert [time for time, _ in chunks] == sorted(time for time, _ in chunks)


@pytest.mark.parametrize("name", ALL)
def test_the_same_seed_gives_the_same_fault(name: str) -> None:
    assert through(name) == through(name)


@pytest.mark.parametrize("name", ["bytewise", "split", "delayed"])
def test_nothing_is_lost_or_added_by_cutting_and_delay(name: str) -> None:
    assert b"".join(data for _, data in through(name)) == WIRE


@pytest.mark.parametrize("name", ["bytewise", "split"])
def test_a_cut_frame_ends_when_the_whole_one_would(name: str) -> None:
    ends: list[int] = []
    held = b""
    for time_ns, data in through(name):
        held += data
        if held.endswith(b"\r\n"):
            ends.append(time_ns)
            held = b""
    assert ends == [time_ns for time_ns, _ in FRAMES]


@given(seed=st.integers(min_value=0), most_ms=st.integers(min_value=0, max_value=200))
def test_delay_is_bounded_and_keeps_order(seed: int, most_ms: int) -> None:
    late = list(faults.delayed(FRAMES, random.Random(seed), most_ms * 1_000_000))
    assert [data for _, data in late] == [data for _, data in FRAMES]
    assert all(0 <= a - b <= most_ms * 1_000_000 for (a, _), (b, _) in zip(late, FRAMES, strict=True))


def test_lossy_loses_about_its_share() -> None:
    kept = sum(len(data) for _, data in through("lossy"))
    assert 0.95 < kept / len(WIRE) < 0.995


def test_doubled_sends_every_frame_twice() -> None:
    assert [data for _, data in through("doubled")] == [data for _, data in FRAMES for _ in range(2)]


def test_stuck_repeats_the_last_frame_within_the_spell() -> None:
    expected = [FRAMES[48][1] if 50 <= n < 60 else data for n, (_, data) in enumerate(FRAMES, 1)]
    assert [data for _, data in through("stuck")] == expected


def test_garbage_only_adds() -> None:
    chunks = through("garbage")
    assert [chunk for chunk in chunks if chunk in FRAMES] == FRAMES
    noise = [data for _, data in chunks if (_, data) not in FRAMES]
    assert 8 <= len(noise) <= 35
    assert all(1 <= len(data) <= 12 for data in noise)


def test_unplugged_cuts_one_frame_and_the_rest_of_the_spell() -> None:
    chunks = through("unplugged")
    within = [chunk for chunk in chunks if HOLE[0][0] <= chunk[0] < HOLE[0][1]]
    assert within == [(1_000_000_000, FRAMES[49][1][:4])]
    assert len(chunks) == 100 - 10 + 1
