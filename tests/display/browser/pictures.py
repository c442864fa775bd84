"""Pictures of the wall page for the docs, of invented bays: look at them before they are kept.

.venv-test/bin/python -m tests.display.browser.pictures
"""

from __future__ import annotations

from math import cos, radians
from pathlib import Path
from typing import Any

from playwright.sync_api import expect, sync_playwright

from tests.display.browser.conftest import ARGS
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


def draw() -> None:
    """Both pictures anew."""
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


if __name__ == "__main__":
    draw()
