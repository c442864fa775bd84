"""How the bench page is made: foot switch, sizes, languages, engines that are due, who cannot see it."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.async_playwright import Axe
from playwright.async_api import Page, expect

from display.web.people import People, with_person, write_people
from tests.display.browser.bench_stand import PHONE, TABLET, WIDE, act, bench_bay, opened, see

pytestmark = pytest.mark.slow

TOUCH_PX = 56.0
"""15 mm at the 96 pixels an inch of CSS, and nothing less."""
DUE = {
    "today": "2026-11-26",
    "method": "example 1",
    "notes": [],
    "engines": [
        {"engine": "GQ-E-1986", "fleet": "water truck 3", "damper": "GQ-D-0733", "state": "overdue",
         "day": "2026-11-03", "predicted": False, "parts": [], "sentences": ["calendar: 2026-11-03"]},
        {"engine": "GQ-E-2230", "fleet": "loader 2", "state": "unknown", "predicted": False, "parts": [],
         "sentences": ["no reading of its counters"]},
    ],
}  # fmt: skip


async def test_a_foot_switch_tells_marks_and_a_second_press_is_asked_about(tmp_path: Path) -> None:
    async with bench_bay(tmp_path, marks=True) as bay, bay.running.up(), bay.pages_up():
        page = await bay.tablet()
        await opened(page)
        await act(page, "list of all checks").click()
        await act(page, "rim run-out").click()
        await act(page, "begin, with indicator-1").click()
        mark = page.locator(".main-act button")
        await expect(mark).to_contain_text("the crank stands at 0°")
        await expect(mark).to_be_enabled()
        box = await mark.bounding_box()
        assert box is not None
        assert box["width"] > TABLET[0] * 0.9
        assert box["height"] > 100
        await page.keyboard.press("Enter")
        await expect(mark).to_contain_text("the crank stands at 120°")
        await expect(mark).to_be_enabled()
        await page.keyboard.press("Enter")
        await see(page, "are you sure?", "yes", "no")
        await expect(act(page, "no")).to_be_enabled()
        await page.keyboard.press("Escape")
        await expect(mark).to_contain_text("the crank stands at 120°")
        await expect(page.locator(".dial-stop-text")).to_have_text("stop at 120°")


async def test_whoever_may_only_look_is_told_so_at_the_door_of_the_bench(tmp_path: Path) -> None:
    write_people(tmp_path / "people.toml", with_person(People(), "R. Example", "look", "quarry 17 west"))
    lines = 'port = 0\n[display]\npeople = "people.toml"'
    async with bench_bay(tmp_path, lines) as bay, bay.running.up(), bay.pages_up():
        page = await (await bay.browser.new_context(locale="en-GB")).new_page()
        bay.contexts.append(page.context)
        await page.goto(f"{bay.url}/bench")
        await page.get_by_label("Your name").fill("R. Example")
        await page.get_by_label("Your password").fill("quarry 17 west")
        await page.get_by_role("button", name="go in").click()
        await see(page, "R. Example may look, and not inspect: the bench needs somebody who may.")
        await looked_at(page)


async def test_an_engine_that_is_due_is_picked(tmp_path: Path) -> None:
    async with bench_bay(tmp_path) as bay, bay.running.up(), bay.pages_up():
        page = await bay.tablet(PHONE)
        engine, damper = (page.get_by_label(name, exact=True) for name in ("engine", "damper"))
        await expect(engine).to_be_visible()
        await expect(page.locator(".due-list")).to_be_hidden()  # nobody can be asked
        await page.route("**/api/due", lambda route: route.fulfill(json=DUE))
        await page.reload()
        picked = page.get_by_role("button", name="GQ-E-1986 · water truck 3")
        await expect(picked).to_contain_text("overdue · 2026-11-03 · GQ-D-0733")
        await expect(page.get_by_role("button", name="GQ-E-2230")).to_contain_text("cannot be told")
        await picked.click()
        await expect(engine).to_have_value("GQ-E-1986")
        await expect(damper).to_have_value("GQ-D-0733")
        await looked_at(page)
        await act(page, "go on").click()
        await see(page, "Engine GQ-E-1986, damper GQ-D-0733.")


async def test_nothing_is_cut_off_or_too_small_in_any_size_and_language(tmp_path: Path) -> None:
    async with bench_bay(tmp_path) as bay, bay.running.up(), bay.pages_up():
        page = await bay.tablet(WIDE)
        await expect(page.get_by_label("engine", exact=True)).to_be_visible()
        await whole(page)
        await opened(page, "both")
        await see(page, "1 of 8")
        await whole(page)
        await act(page, "list of all checks").click()
        await see(page, "So far")
        await whole(page)
        await act(page, "rim run-out").click()
        await see(page, "begin, with indicator-1")
        await whole(page)
        await act(page, "begin, with indicator-1").click()
        await see(page, "Bar on, evenly")
        await whole(page)
        await page.get_by_role("button", name="Settings").click()
        await page.get_by_role("radio", name="Deutsch").check()
        await page.keyboard.press("Escape")
        await see(page, "Kurbelwelle weiter durchdrehen")
        await whole(page)


async def whole(page: Page) -> None:
    """In every size, by day and in the dark, for those too who hear the page."""
    for width, height in (WIDE, (1920, 1080), TABLET, PHONE):
        await page.set_viewport_size({"width": width, "height": height})
        assert await page.evaluate(_CUT_OFF) == []
        small = await page.evaluate(_SMALL, TOUCH_PX)
        assert small == []
    await looked_at(page)
    await page.emulate_media(color_scheme="dark")
    await looked_at(page)
    await page.emulate_media(color_scheme="light")


async def looked_at(page: Page) -> None:
    """By axe-core."""
    found = (await Axe().run(page)).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []


_CUT_OFF = """() => {
    const parts = document.querySelectorAll(".act-words, .act, .figure-digits, h1, .field label, body");
    return [...parts].filter(part => part.checkVisibility() && part.scrollWidth > part.clientWidth + 1
        && getComputedStyle(part).display !== "inline").map(part => part.className + " " + part.textContent);
}"""
_SMALL = """least => [...document.querySelectorAll("button, a, label.button, input[type=text]")]
    .filter(part => part.checkVisibility() && part.closest("dialog") === null)
    .filter(part => part.getBoundingClientRect().height < least || part.getBoundingClientRect().width < least)
    .map(part => part.outerHTML)"""
