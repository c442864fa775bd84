"""Whatever is written on a plate, into a note or onto the broker: the wall shows it as text."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.display.browser.wall_stage import BAY, Stage, gauge, live, opened, result

pytestmark = pytest.mark.slow

ODD = (
    '<img src=x onerror="document.title=1"><script>document.title=1</script>',
    '"\' onmouseover="document.title=1',
    "😀" * 20 + "e\u0302" * 60,
    "\u202eGQ-D-0815",
    "W" * 100,
    "a\x00b\x07\x1b[31m",
    "{name} {{}} ${1}",
    "__proto__: x",
)
BEYOND = """() => [...document.querySelectorAll('body *')].filter(node => node.checkVisibility()
    && !node.closest('dialog, svg') && node.getBoundingClientRect().width > 0
    && node.getBoundingClientRect().right > innerWidth + 2).map(node => node.className)"""


def told(text: str) -> dict[str, Any]:
    """A bay that says it wherever it says what somebody wrote."""
    said = result(
        engine={"serial": text}, damper={"serial": text}, reasons=[text, f"rim: {text}"], state="closed",
        next_due={"date": text},
    )  # fmt: skip
    said["checks"]["rim"] |= {"reason": text, "warnings": [text]}
    timer = {"check": "penetrant", "item": text[:60], "text": text, "elapsed_s": 5, "least_min": 5.0}
    return {
        "result": said,
        "live": live(warnings=(text,), cautions=(text,), timers=[timer]),
        "status": {"state": "online", "warnings": [text]},
        "gauges": {text: gauge("silent", text)},
    }


@pytest.mark.parametrize("text", ODD)
def test_odd_text_is_text_and_stays_within_the_screen(page: Page, stage: Stage, text: str) -> None:
    stage.bay(**told(text))
    opened(page, stage)
    seen = text.replace("\u202e", "\ufffd").partition("\x00")[0][:20].strip()
    expect(page.locator("body")).to_contain_text(seen)
    assert page.evaluate(BEYOND) == []
    stage.bay(f"quarry/{'W' * 40}", **told(text))
    expect(page.locator(".tile")).to_have_count(2)
    assert page.evaluate(BEYOND) == []
    page.locator(".tile").first.click()
    expect(page.locator(".wall-title")).to_have_text(BAY)
    stage.bay(live=live("rim", warnings=(text,), gauge=text))
    expect(page.locator(".figure-check")).to_have_text("rim run-out")
    assert page.evaluate(BEYOND) == []
    assert page.title() == f"{BAY} – ringtrue"
