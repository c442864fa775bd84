"""Pictures of the pages for the docs, of invented bays: look at them before they are kept.

.venv-test/bin/python -m tests.display.browser.pictures
"""

from __future__ import annotations

import asyncio
from math import cos, radians
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from playwright.sync_api import expect, sync_playwright

from tests.display.browser import bench_stand as bench
from tests.display.browser.conftest import ARGS
from tests.display.browser.test_display_browser_history import Office, kept, serving
from tests.display.browser.wall_stage import BAY, live, opened, result, staged

FOLDER = Path(__file__).parents[3] / "docs" / "pages"
SIZE = (1280, 800)


def height_mm(deg: int) -> float:
    """Of an invented rim."""
    return 0.082 * cos(radians(deg - 58)) + 0.012 * cos(radians(2 * deg))


def sweeping(covered_deg: int) -> dict[str, Any]:
    """A bay in the middle of a turn."""
    heights = [height_mm(deg) for deg in range(covered_deg)]
    figures = {
        "angle_deg": covered_deg - 1.0,
        "value_mm": heights[-1],
        "min_mm": min(heights),
        "max_mm": max(heights),
        "max_deviation_mm": max(heights) - min(heights),
        "covered_deg": float(covered_deg),
        "to_bar_deg": 365.0 - covered_deg,
    }
    bins = [*heights, *[None] * (360 - covered_deg)]
    return {"live": live("rim", **figures), "result": result(), "trace": {"check": "rim", "bins": bins}}


def draw_wall() -> None:
    """Both pictures of the wall anew."""
    with staged() as stage, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(ARGS))
        page = browser.new_page(viewport={"width": SIZE[0], "height": SIZE[1]})
        stage.bay(**sweeping(232))
        opened(page, stage, sound=False)
        expect(page.locator(".dial-trace")).to_be_visible()
        page.evaluate("document.fonts.ready.then(() => true)")
        page.screenshot(path=FOLDER / "wall.png")
        stage.bay("greywacke/bay-1", live=live(), result=result())
        stage.bay("greywacke/bay-3", live=live("face", max_deviation_mm=0.321))
        stage.bay("greywacke/bay-4", away="the bay's daemon is not running")
        expect(page.locator(".tile")).to_have_count(4)
        expect(page.locator(f".tile:has-text('{BAY}')")).to_be_visible()
        page.screenshot(path=FOLDER / "wall-bays.png")
        browser.close()


async def draw_bench() -> None:
    """The bench's anew: a daemon's, in the middle of a turn."""
    with TemporaryDirectory() as folder:
        async with bench.bench_bay(Path(folder)) as bay, bay.running.up(), bay.pages_up():
            page = await bay.tablet(bench.WIDE)
            await bench.opened(page)
            for n in range(1, 9):
                await bench.see(page, f"{n} of 8")
                await bench.act(page, "good").click()
            await bench.act(page, "go on").click()
            await bench.act(page, "begin, with indicator-1").click()
            await bench.see(page, "Bar on, evenly")
            await bench.act(page, "timing mark").click()
            await bench.see(page, "0° timing mark")
            await page.mouse.move(bench.WIDE[0] / 2, 0)
            await bay.stand.turn(200, 0.25)
            await bench.see(page, "covered 200°")
            await page.evaluate("document.fonts.ready.then(() => true)")
            await page.screenshot(path=FOLDER / "bench.png")


def draw_history() -> None:
    """A damper's page anew, of the quarry's records."""
    with TemporaryDirectory() as folder:
        config = kept(Path(folder)) / "pages.toml"
        with serving(config) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(ARGS))
            page = Office(browser, address).open("/history?of=GQ-D-0822")
            page.evaluate("document.fonts.ready.then(() => true)")
            page.screenshot(path=FOLDER.parent / "history.png")
            browser.close()


if __name__ == "__main__":
    draw_history()
    draw_wall()
    asyncio.run(draw_bench())
