"""The stream of a page over a real connection: alive, broker away and back, and nothing left when it goes."""

from __future__ import annotations

import asyncio
import tracemalloc
from collections.abc import Collection
from pathlib import Path

import pytest

from contract.document import encode
from contract.live import Live, live_payload
from contract.states import status_payload
from display.web import stream as streams
from display.web import walls
from display.web.feed import Feed
from display.web.tabs import Tab
from tests.display.site import BAY, TOPICS, bench, settled, site, stream
from tests.display.test_display_feed import sweeping
from tests.ringtrue.inspecting.line import ADDRESS, Line
from tests.ringtrue.test_ringtrue_watch import RESULT

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sign of life often enough not to wait for it."""
    monkeypatch.setattr(streams, "ALIVE_S", 0.1)
    monkeypatch.setattr(streams, "PERIOD_S", 0.01)


async def test_a_page_hears_the_bay_and_that_all_is_alive(tmp_path: Path) -> None:
    line = Line()
    line.publish(TOPICS.status, status_payload("online"), retain=True)
    async with (
        site(tmp_path, line) as made,
        made.browser() as browser,
        stream(browser, "/wall/stream") as page,
    ):
        assert page.headers["content-type"] == "text/event-stream; charset=utf-8"
        assert page.headers["cache-control"] == "no-store"
        await page.until("bay", lambda told: told["status"] == {"state": "online", "warnings": []})
        await page.until("alive")
        line.publish(TOPICS.live, live_payload(Live(readings=7)))
        assert (await page.until("bay"))["live"]["readings"] == 7


async def test_sentences_are_told_in_the_unit_of_the_page(tmp_path: Path) -> None:
    line = Line()
    line.publish(TOPICS.live, live_payload(Live(warnings=("4.60 of the 5 mm",))), retain=True)
    reason = "rim: true TIR 0.254 mm is within the limit of 0.28 mm"
    shown = RESULT.model_copy(update={"reasons": (reason,)})
    line.publish(TOPICS.result, encode(shown), retain=True)
    async with site(tmp_path, line) as made, made.browser() as browser:
        for unit, warning, told in (
            ("mm", "4.60 of the 5 mm", reason),
            ("in", "0.1811 of the 0.1969 in", "rim: true TIR 0.0100 in is within the limit of 0.0110 in"),
        ):
            async with stream(browser, f"/wall/stream?unit={unit}") as page:
                heard = await page.until("bay", lambda patch: patch["result"] is not None)
                assert heard["live"]["warnings"] == [warning]
                assert heard["result"]["reasons"] == [told]


async def test_a_bench_where_nothing_changes_is_alive_too(tmp_path: Path) -> None:
    """Its clock nudges it, and what has not changed is not told."""
    async with site(tmp_path) as made, made.entered() as browser, stream(browser, bench()) as page:
        await page.until("page")
        nudging = asyncio.ensure_future(_nudge(made.world.tabs._tabs.values()))
        try:
            for _ in range(3):
                await page.until("alive")
        finally:
            nudging.cancel()
            await asyncio.wait([nudging])


async def _nudge(tabs: Collection[Tab]) -> None:
    while True:
        for tab in tuple(tabs):
            tab.tick()
        await asyncio.sleep(0.02)


async def test_the_broker_goes_and_comes_back(tmp_path: Path) -> None:
    line = Line()
    line.publish(TOPICS.status, status_payload("online"), retain=True)
    async with (
        site(tmp_path, line) as made,
        made.browser() as browser,
        stream(browser, f"/wall/stream?bay={BAY}") as page,
    ):
        await page.until("broker", lambda told: told["away"] is None)
        line.cut()
        await page.until("broker", lambda told: "broker" in str(told["away"]))
        line.is_up = True
        await page.until("broker", lambda told: told["away"] is None)


async def test_nothing_is_left_of_a_page_that_has_gone(tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.entered() as browser:
        numbers: list[int] = []
        for _ in range(3):
            async with stream(browser, "/wall/stream") as wall, stream(browser, bench()) as page:
                await wall.until("broker")
                await page.until("page")
                assert made.world.feed.pages == 2
                (tab,) = made.world.tabs._tabs.values()
                assert tab.is_shown
            await settled(lambda: made.world.feed.pages == 0)
            assert not tab.is_shown
            # The first has begun the walk, which is kept; a connection's end may come a moment later.
            await settled(lambda: len(asyncio.all_tasks()) <= min(numbers, default=1000))
            numbers.append(len(asyncio.all_tasks()))


async def test_a_page_whose_server_stops_is_told_so_and_at_once(tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.browser() as browser:
        async with stream(browser, "/wall/stream") as page:
            await page.until("broker")
            made.world.feed.end()
            await page.ends()
        async with stream(browser, "/wall/stream") as late:
            await late.ends()


async def test_only_so_many_walls_are_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(walls, "MOST", 1)
    async with site(tmp_path) as made, made.browser() as browser, stream(browser, "/wall/stream") as page:
        await page.until("broker")
        async with stream(browser, "/wall/stream") as second:
            assert second.status == 503


async def test_one_address_does_not_take_all_walls(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor does it keep its own for ever: one that is closed leaves room for another."""
    monkeypatch.setattr(walls, "MOST_EACH", 1)
    said = "1 walls are open from this address already: close one."
    async with site(tmp_path) as made, made.browser() as browser:
        async with stream(browser, "/wall/stream") as page:
            await page.until("broker")
            refused = await browser.get("/wall/stream")
            assert (refused.status_code, refused.json()["error"]) == (503, said)
            # An EventSource tells nothing of an answer that is none.
            assert (await browser.head("/wall/stream")).headers["X-Ringtrue-Why"] == said
        await settled(lambda: made.world.feed.pages == 0)
        async with stream(browser, "/wall/stream") as again:
            await again.until("broker")


def test_addresses_of_one_network_are_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(walls, "MOST_EACH", 2)
    made = walls.Walls(Feed(lambda: ADDRESS))
    with made.watching("2001:db8::1", None, dict), made.watching("2001:db8::2", None, dict):
        assert made.why_not("2001:db8::3") is not None
        assert made.why_not("2001:db8:0:1::3") is None
        assert made.why_not("192.0.2.1") is None


async def test_no_body_where_none_is_asked_for(tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.browser() as browser:
        assert (await browser.head("/wall/stream")).status_code == 200
        assert made.world.feed.pages == 0


async def test_no_memory_grows_with_what_was_heard(tmp_path: Path) -> None:
    line = Line()

    async def hear(number: int) -> None:
        line.publish(TOPICS.live, live_payload(sweeping(number % 360, number)))
        if number % 50 == 0:
            await asyncio.sleep(0)

    async with (
        site(tmp_path, line) as made,
        made.browser() as browser,
        stream(browser, "/wall/stream") as page,
    ):
        await page.until("broker", lambda told: told["away"] is None)
        for number in range(1000):
            await hear(number)
        await page.until("bay", lambda told: told["live"]["readings"] == 999)
        page.heard.clear()
        tracemalloc.start()
        try:
            for number in range(1000, 11_000):
                await hear(number)
            await page.until("bay", lambda told: told["live"]["readings"] == 10_999)
            page.heard.clear()
            line.published.clear()
            grown, _ = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
    assert grown < 300_000
