"""An answer that somebody has heard stands, also when the daemon is killed right after it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.acquire.workbench import bay_files
from tests.virtual.plan import plan_of
from tests.virtual.world import VirtualWorld


def test_a_refusal_that_was_heard_is_not_done_when_it_comes_again_after_a_kill(tmp_path: Path) -> None:
    quiet = next(plan for plan in map(plan_of, range(100)) if plan.quiet and plan.kind == "typed")
    world = VirtualWorld(quiet, bay_files(tmp_path, "marks"), tmp_path)
    world.disk.commit_s = (0.2, 0.2)
    heard: list[dict[str, Any]] = []

    def hear(topic: str, payload: bytes) -> None:
        if topic.endswith("/reply/early"):
            heard.append(json.loads(payload))
            if len(heard) == 1:
                world.kill()  # whatever is not on the disk by now never will be

    world.broker.on_message = hear
    end = b'{"id":"early","operator":"R. Example","check":"visual","items":[{"item":"leak","seen":"good"}]}'
    opening = (
        b'{"id":"o","operator":"R. Example","inspection":"i","engine":"e","damper":"d","scope":"on-engine"}'
    )

    async def play() -> None:
        running = world.loop.create_task(world.keep_running())
        await world.loop.until(world.hand.now_ns + 3 * 10**9)
        world.broker.send("record", end)  # nothing is open
        await world.loop.until(world.hand.now_ns + 10 * 10**9)
        world.broker.send("open", opening)
        world.broker.send("record", end)
        await world.loop.until(world.hand.now_ns + 3 * 10**9)
        world.stop()
        await running

    try:
        world.loop.run_until_complete(play())
    finally:
        world.loop.close()
    assert world.kills == 1
    assert [reply["ok"] for reply in heard] == [False, False]
