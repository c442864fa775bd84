"""Commands before the register was first read: in their order, none twice, none lost."""

from __future__ import annotations

import asyncio

from hypothesis import given
from hypothesis import strategies as st

from acquire.opening import Opening

NAMES = st.lists(st.sampled_from(["open", "begin", "record", "close"]), max_size=8)


@given(before=NAMES, after=NAMES)
async def test_they_are_done_in_order_and_from_an_open_on_once_the_register_is_read(
    before: list[str], after: list[str]
) -> None:
    done: list[tuple[str, bytes, bool]] = []
    opening = Opening(lambda *command: done.append(command))
    told = [(name, b"%d" % at, False) for at, name in enumerate(before + after)]
    for command in told[: len(before)]:
        opening.take(*command)
    until_open = before.index("open") if "open" in before else len(before)
    assert done == told[:until_open]
    opening.free()
    for command in told[len(before) :]:
        opening.take(*command)
    assert done == told


async def test_a_register_that_does_not_come_is_not_waited_for_beyond_a_moment() -> None:
    done = asyncio.Event()
    Opening(lambda *_: done.set(), moment_s=0.01).take("open", b"", False)
    assert not done.is_set()
    await asyncio.wait_for(done.wait(), 10)
