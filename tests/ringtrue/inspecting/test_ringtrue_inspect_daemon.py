"""The walk against the daemon itself: its own broker, gauges on sockets."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from config.bay import read_bay
from contract.lengths import UNITS
from contract.topics import Topics
from display.walk.bay import BayAtHand
from ringtrue.inspecting.app import InspectApp
from tests.acquire.running_bay import Running
from tests.acquire.stand import stand
from tests.ringtrue.inspecting.screen import Screen, all_good, opened

pytestmark = pytest.mark.slow


async def test_an_inspection_from_open_to_signed_over_a_restart_of_the_daemon(tmp_path: Path) -> None:
    async with stand() as bench:
        files = read_bay(bench.config(tmp_path, "port = 0"), {})
        running = Running(files)
        app = InspectApp(
            lambda on_news: BayAtHand(
                Topics("greywacke", "bay-2"),
                "R. Example",
                lambda: running.address,
                unit=UNITS["mm"],
                now_s=time.monotonic,
                on_news=on_news,
            ),
            signer="R. Example",
        )
        async with app.run_test(size=(80, 40)) as pilot:
            screen = Screen(app, pilot)
            await screen.see("Waiting for the bay")
            async with running.up():
                await opened(screen)
                await all_good(screen, files.method)
                await screen.see("LOOK ON THE ENGINE: GOOD")
                await screen.press("enter")
                await screen.see("[1] begin, with indicator-1")
                assert "encoder-1" not in screen.text
                await screen.press("1")
                await screen.see("Bar on, evenly")
                await bench.turn()
                await screen.see("RIM RUN-OUT: WITHIN")
            await screen.see("BAY AWAY")
            async with running.up():
                await screen.ready()
                await screen.see("RIM RUN-OUT: WITHIN")
                await screen.press("enter")
                await screen.see("[1] begin, with indicator-1")
                bench.set_on_face()
                await screen.press("1")
                await screen.type("")
                await screen.see("face wobble, indicator-1")
                await bench.turn()
                await screen.see("FACE WOBBLE: ")
                await screen.press("l")
                await screen.see("close: nothing more is measured")
                await screen.press("enter", "k")
                await screen.see("before the lock comes off", "read: go on")
                await screen.press("enter", "enter")
                await screen.see("is signed by R. Example")
                assert app.page.name == "over signed"
