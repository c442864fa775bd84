from __future__ import annotations

import asyncio

import pytest

from simulators.timeline import Timeline, merged, play


def test_lines_are_merged_by_time_and_ties_by_order_given() -> None:
    story = merged({"a": [(1, b"1"), (3, b"2")], "b": [(1, b"3"), (2, b"4")]})
    assert list(story) == [(1, "a", b"1"), (1, "b", b"3"), (2, "b", b"4"), (3, "a", b"2")]


def test_virtual_time_runs_at_its_speed() -> None:
    now = [1_000]
    timeline = Timeline(20.0, lambda: now[0])
    now[0] += 50
    assert timeline.now_ns() == 1_000
    assert timeline.real_s(20_000_000_000) == pytest.approx(1.0)


@pytest.mark.parametrize("speed", [0.0, -1.0, float("nan"), float("inf")])
def test_impossible_speeds_are_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        Timeline(speed)


async def test_chunks_come_in_order_and_not_before_their_time() -> None:
    timeline = Timeline(10.0)
    came: list[tuple[int, bytes]] = []
    stream = [(n * 20_000_000, bytes([n])) for n in range(6)]
    await play(stream, lambda data: came.append((timeline.now_ns(), data)), timeline)
    assert [data for _, data in came] == [data for _, data in stream]
    # The loop's own clock may wake a task its resolution too early.
    assert all(now >= due - 200_000 for (now, _), (due, _) in zip(came, stream, strict=True))


async def test_what_is_overdue_comes_at_once_but_leaves_the_loop_its_turns() -> None:
    now = [0]
    timeline = Timeline(1.0, lambda: now[0])
    now[0] = 10**12
    turns = 0

    async def other() -> None:
        nonlocal turns
        while True:
            await asyncio.sleep(0)
            turns += 1

    watching = asyncio.create_task(other())
    came: list[bytes] = []
    await play([(n, b"x") for n in range(1000)], came.append, timeline)
    watching.cancel()
    assert len(came) == 1000
    assert turns >= 10


def test_a_late_frame_makes_the_virtual_clock_wait() -> None:
    now = [0]
    timeline = Timeline(10.0, lambda: now[0], late_most_s=0.002)
    now[0] = 1_500_000
    timeline.hold(0)
    assert timeline.now_ns() == 15_000_000
    now[0] = 50_000_000
    timeline.hold(20_000_000)
    assert timeline.now_ns() == 20_000_000


async def test_a_stall_in_between_takes_the_story_longer() -> None:
    now = [0]
    timeline = Timeline(1.0, lambda: now[0], late_most_s=0.002)
    written: list[tuple[int, bytes]] = []

    def write(data: bytes) -> None:
        written.append((timeline.now_ns(), data))
        now[0] += 10_000_000  # a stall after each frame

    await play([(n * 1_000_000, b"x") for n in range(4)], write, timeline)
    assert [at for at, _ in written] == [0, 1_000_000, 2_000_000, 3_000_000]
