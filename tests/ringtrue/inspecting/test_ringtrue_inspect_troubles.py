"""Bad days at the screen: who goes away, who refuses, who else is there; and the screen itself."""

from __future__ import annotations

import asyncio
from functools import partial
from pathlib import Path

import pytest

from acquire.bay.inspection import fold
from acquire.bay.known import Known
from contract.lengths import UNITS
from contract.wire import encode
from display.walk.bay import BayAtHand
from link.tasks import end
from ringtrue.inspecting.widgets import Entry
from tests.link.outside import until
from tests.ringtrue.inspecting.bay import memory_bay, round_rim
from tests.ringtrue.inspecting.line import ADDRESS
from tests.ringtrue.inspecting.screen import opened, screen_of

pytestmark = pytest.mark.slow


async def test_the_daemon_goes_away_and_the_walk_goes_on_where_the_bay_is(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.press("l", "2", "1")
        await screen.see("Bar on")
        await bay.bar(round_rim(0.1), 100)
        await screen.see("covered 100°")
        bay.die()
        await screen.see(
            "BAY AWAY: the bay's daemon is not running", "no figures while the bay is away", "BIG -"
        )
        await screen.strike("c")  # greyed out: nothing is asked, nothing is lost
        bay.restart()
        await screen.see("covered 100°", "Bar on")
        assert "BAY AWAY" not in screen.text
        await bay.bar(round_rim(0.1), from_deg=102)
        await screen.see("RIM RUN-OUT: ")
        assert [name for name, _ in bay.asked()] == ["open", "begin"]


async def test_a_lost_connection_keeps_what_was_typed_and_asks_under_one_id(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await screen.see("Which engine")
        await screen.strike(*"GQ")
        bay.line.cut()
        await screen.see("BAY AWAY: mqtt://broker:1883 cannot be reached")
        assert screen.app.query(Entry).first().value == "GQ"
        bay.line.is_up = True
        await screen.ready()
        await screen.strike(*"7")
        await screen.type("", "D1", "", "", "", "", "", "", "")
        await screen.see("Engine GQ7, damper D1")
        bay.deaf = True
        await screen.press("1")
        await until(lambda: len(bay.line.asked) == 1)
        bay.bench.wait(5)
        await screen.see("NO ANSWER to open for 5 s", "leave everything as it stands")
        assert "send commands?" not in screen.text
        bay.bench.wait(10)
        await screen.see("NO ANSWER to open for 15 s", "let this user send commands?")
        await screen.strike("1", "1", "3")
        bay.line.cut()
        bay.deaf, bay.line.is_up = False, True
        await screen.see("read this first")
        sent = [payload for topic, payload in bay.line.asked if topic.endswith("command/open")]
        assert len(sent) >= 2
        assert set(sent) == {sent[0]}


async def test_a_refusal_is_shown_whole_and_nothing_typed_is_lost(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        bay.bench.open("truck-9", engine="GQ-E-1")
        bay.bench.do("abandon", inspection="truck-9")
        await bay.tell()
        await screen.see("Which engine")
        await screen.type("GQ-E-2207", "GQ-D-0815", "12x", "", "", "", "", "", "truck-9")
        await screen.press("1")
        await screen.see("NOT DONE.", "truck-9", "choose another id")
        await screen.press("escape")
        await screen.see("Which engine")
        assert [entry.value for entry in screen.app.query(Entry)][:3] == ["GQ-E-2207", "GQ-D-0815", "12"]


async def test_two_screens_see_the_same_and_either_may_go_on(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as one:
        await opened(one)
        await one.press("l", "2", "1")
        await one.see("Bar on")
        async with screen_of(bay, operator="R. Example", size=(40, 20)) as other:
            await other.see("Bay greywacke/bay-2 has one open: truck-14", "engine GQ-E-2207", "Is it yours?")
            await other.press("j")
            await other.see("Bar on", "limit 0.280 mm")
            await bay.bar(round_rim(0.1), 90)
            await one.see("covered 90°, bar 275° more")
            await other.see("covered 90°, bar 275° more")
            await other.press("c")
            await other.see("are you sure?", "It will not count")
            await other.press("y")
            await one.see("The last one was cancelled by R. Example; it does not count.")
            await other.see("read this first", "Spilled silicone")  # of the bay's step, and new to this one
            await other.press("enter")
            await other.see("The last one was cancelled by R. Example")
            await one.press("1")
            await other.see("Bar on")
            await bay.bar(round_rim(0.1))
            await one.see("RIM RUN-OUT: WITHIN")
            await other.see("RIM RUN-OUT: WITHIN")
            await other.press("l", "k")
            await other.see("Closed, nothing more can be measured")
            await other.press("k")
            await one.see("before the lock comes off", "read: go on")
            await one.press("enter")
            await one.see("Closed by R. Example")


async def test_an_event_that_comes_twice_does_not_hide_what_came_of_it(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.press("l", "2", "1")
        await screen.see("Bar on")
        await bay.bar(round_rim(0.1))
        await screen.see("RIM RUN-OUT: WITHIN")
        bay.again("sweep-ended")
        bay.gauge("indicator-1", "silent")  # heard after it
        await screen.press("r")
        await screen.see("No gauge that fits is connected")


async def test_a_bay_with_another_journal_is_heard_from_its_first_event(tmp_path: Path) -> None:
    news = asyncio.Event()
    async with memory_bay(tmp_path) as bay:
        hand = BayAtHand(
            bay.topics, "R. Example", lambda: ADDRESS, unit=UNITS["mm"], now_s=bay.now_s, on_news=news.set,
            connect=bay.line.connect,
        )  # fmt: skip
        hearing = asyncio.ensure_future(hand.run())

        async def closed(seq: int, operator: str) -> None:
            said = {"event": "closed", "seq": seq, "inspection": "truck-14", "operator": operator, "t_ns": 1}
            whole = encode(said | {"time": "2026-03-02T06:00:00.000Z"})
            bay.line.publish(bay.topics.event("truck-14"), whole)
            async with asyncio.timeout(10):
                while hand.view().ended_by != operator:
                    news.clear()
                    await news.wait()

        async with asyncio.timeout(10):
            while hand.view().away is not None:
                news.clear()
                await news.wait()
        await closed(900, "the first")
        bay.die()
        bay.start()
        await closed(3, "the second")
        await end(hearing)


async def test_another_engines_inspection_is_never_taken_for_ones_own(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await screen.see("Which engine")
        bay.bench.open("truck-9", engine="GQ-E-1")
        await bay.tell()
        await screen.see("an inspection is open", "engine GQ-E-1")
        await screen.press("x")
        await screen.see("Give truck-9 up? It is of engine GQ-E-1.")
        await screen.press("y")
        await screen.see("Which engine", "truck-9, engine GQ-E-1, abandoned")


async def test_a_serial_that_the_register_does_not_hold_is_told_when_it_is_opened(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        bay.bench.bay.known = Known(
            ratings_kw={"GQ-E-2207": 300.0}, dampers={"GQ-D-0816": ("viscous", "rolled")}
        )
        await opened(screen, read=False)
        await screen.see("the register has no damper GQ-D-0815; is GQ-D-0816 meant?")


async def test_what_is_asked_late_is_never_done_to_another_engines_inspection(tmp_path: Path) -> None:
    """Said good while the bay was away: by the time it is back somebody has opened the next one."""
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.see("Dry of engine oil")
        bay.deaf = True
        await screen.press("g")
        await until(lambda: bay.asked()[-1][0] == "record")
        bay.bench.do("abandon", inspection="truck-14")
        bay.bench.open("truck-15", engine="GQ-E-9")
        await bay.tell()
        bay.deaf = False
        await screen.see("NOT DONE. record: it is of truck-14, and truck-15 is open now")
        assert not fold(bay.bench.journal.read("truck-15")).finished


async def test_leaving_is_asked_about_while_something_runs(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.press("l", "2", "1")
        await screen.see("Bar on")
        await screen.press("q")
        await screen.see("are you sure?", "At the bay the rim goes on. Leave this screen?")
        await screen.press("n")
        await screen.see("Bar on")
        await screen.press("c", "y")
        await screen.see("The last one was cancelled")
        await screen.press("q")
        assert screen.app._exit


async def test_a_gauge_that_is_unplugged_shows_no_number(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.press("l", "2", "1")
        await screen.see("Bar on")
        await bay.bar(round_rim(0.1), 40)
        await screen.see("covered 40°")
        bay.gauge("indicator-1", "absent", "unplugged")
        await screen.see("BIG -", "! indicator-1 is absent: unplugged", "Stop barring")
        assert "° more" not in screen.text
        await screen.press("c", "y")
        await screen.see("indicator-1: absent (unplugged)", "No gauge that fits is connected")


async def test_at_forty_columns_all_can_be_reached_and_the_screen_may_be_resized(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is asked and each choice is in sight on 40 columns by 20 rows; cautions are scrolled, in full."""
    monkeypatch.setenv("NO_COLOR", "1")
    async with memory_bay(tmp_path) as bay, screen_of(bay, size=(40, 20)) as screen:
        assert screen.app.no_color
        await opened(screen, "3")
        await screen.see("1 of 8", "PgDn: more")
        for size in ((40, 20), (120, 50), (40, 20)):
            await screen.pilot.resize_terminal(*size)
            await until(partial(screen.fits, size))
        told = screen.app.query_one("#told")
        seen = set()
        for _ in range(20):
            seen |= set(range(int(told.scroll_y), int(told.scroll_y) + told.size.height))
            await screen.strike("pagedown")
        assert seen >= set(range(told.virtual_size.height))


async def test_a_sweep_may_be_told_as_cancelled_before_live_says_that_it_is_over(
    tmp_path: Path,
) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.press("l", "2", "1")
        await screen.see("Bar on")
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(bay, "_tell_live", lambda: None)  # live is told some times a second only
            await screen.press("c", "y")
            await until(lambda: any(b'"event":"sweep-ended"' in payload for _, payload in bay.line.published))
        await bay.tell()
        await screen.see("The last one was cancelled by R. Example; it does not count.")
