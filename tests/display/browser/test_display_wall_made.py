"""The wall page in a real browser: large enough, nothing cut off, for every eye and hand, all day long."""

from __future__ import annotations

import itertools

import pytest
from playwright.sync_api import Page, expect

from tests.display.browser.axe import looked_at
from tests.display.browser.wall_stage import BAY, CAUTIONS, Stage, live, opened, result, rim

pytestmark = pytest.mark.slow

SIZES = ((1280, 800), (1920, 1080))
DIGITS_LEAST = 0.2
"""Of the screen's height: what the largest deviation's digits must have."""


def digits_height(page: Page) -> float:
    """Of the figure as it is drawn, in pixels."""
    height: float = page.evaluate(
        """() => { const style = getComputedStyle(document.querySelector(".figure-digits"));
        const brush = document.createElement('canvas').getContext('2d');
        brush.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
        return brush.measureText('0').actualBoundingBoxAscent; }"""
    )
    return height


def cut_off(page: Page) -> list[str]:
    """What is wider or higher than the room it has, or beyond the screen."""
    page.evaluate("document.fonts.ready.then(() => true)")
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll('.large *, .wall-top *, .tile, .tile *')].filter(node => {
        if (node.closest('svg') || !node.getClientRects().length) return false;
        const box = node.getBoundingClientRect();
        return node.scrollWidth > node.clientWidth + 1 && node.clientWidth > 0 || box.right > innerWidth + 1;
        }).map(node => `${node.className}: ${node.textContent.slice(0, 40)}`)"""
    )
    return found


def parted(page: Page) -> list[str]:
    """Words that stand in two lines."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll('.check-name, .check-outcome')].flatMap(node =>
        [...node.textContent.matchAll(/[^ ]+/g)].filter(word => {
            const range = document.createRange();
            range.setStart(node.firstChild, word.index);
            range.setEnd(node.firstChild, word.index + word[0].length);
            return new Set([...range.getClientRects()].map(box => box.top)).size > 1;
        }).map(word => word[0]))"""
    )
    return found


@pytest.mark.parametrize("size", SIZES)
def test_the_digits_are_a_fifth_of_the_screen_and_nothing_is_cut_off(
    page: Page, stage: Stage, size: tuple[int, int]
) -> None:
    rim(stage, max_deviation_mm=0.321, warnings=["barred back: bar on one way"], back_deg=14.0, lost=3)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    opened(page, stage)
    for unit, lang in itertools.product(("mm", "in"), ("en", "de")):
        page.evaluate(
            "async told => (await import('/static/js/settings.js')).set(told)", {"unit": unit, "lang": lang}
        )
        expect(page.locator(".figure-digits")).to_have_text({"mm": "0.321", "in": "0.0126"}[unit])
        expect(page.locator(".above")).to_contain_text(
            {"en": "ABOVE THE LIMIT", "de": "ÜBER DEM GRENZWERT"}[lang]
        )
        page.evaluate("document.fonts.ready.then(() => true)")
        assert digits_height(page) >= DIGITS_LEAST * size[1], (unit, lang)
        assert cut_off(page) == [], (unit, lang)
        assert page.evaluate("document.documentElement.scrollHeight") == size[1]


@pytest.mark.parametrize("size", [*SIZES, (390, 844)])
@pytest.mark.parametrize("lang", ["en", "de"])
def test_between_checks_nothing_is_cut_off(
    page: Page, stage: Stage, size: tuple[int, int], lang: str
) -> None:
    measured = {"limit_mm": 0.28, "true_tir_mm": 0.326, "u_expanded_mm": 0.019, "warnings": []}
    checks = {
        name: {"outcome": outcome, "reason": "true TIR 0.326 mm ± 0.019 mm: " + "why " * 20, **measured}
        for name, outcome in zip(
            ("visual", "rim", "face", "visual-bench", "thickness", "penetrant", "warm-leak", "suitability"),
            ("good", "within", "over", "missing", "unclear", "bad", "invalid", "invalid"),
            strict=True,
        )
    }
    stage.bay(live=live(), result=result(checks=checks, verdict="measure-again"))
    page.set_viewport_size({"width": size[0], "height": size[1]})
    opened(page, stage, lang=lang, unit="in")
    expect(page.locator(".checks li")).to_have_count(8)
    assert cut_off(page) == []
    assert parted(page) == []
    stage.bay("greywacke/bay-12", live=live(), result=result())
    expect(page.locator(".tile")).to_have_count(2)
    assert cut_off(page) == []


HANDED_OUT = {
    "id": "quarry",
    "version": "3",
    "sha256": "0" * 64,
    "number": 3,
    "since": "2026-11-02T06:00:00.000Z",
}
NEXT = HANDED_OUT | {"version": "4", "number": 4}


@pytest.mark.parametrize(
    ("size", "lang", "method", "said"),
    [
        (SIZES[0], "en", {"in_force": HANDED_OUT}, "By method quarry 3, since 2026-11-02"),
        ((390, 844), "de", {"in_force": HANDED_OUT, "waiting": NEXT},
         "Nach Methode quarry 3; quarry 4 wartet, bis diese Inspektion zu Ende ist"),
        (SIZES[1], "en", {"in_force": HANDED_OUT, "withheld": "it is damaged"},
         "No method is in force: no inspection can be opened"),
    ],
)  # fmt: skip
def test_the_method_in_force_is_told_where_an_office_hands_them_out(
    page: Page, stage: Stage, size: tuple[int, int], lang: str, method: dict[str, object], said: str
) -> None:
    stage.bay(live=live(), result=result(), method=method)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    opened(page, stage, lang=lang)
    expect(page.locator(".method")).to_have_text(said)
    assert cut_off(page) == []


@pytest.mark.parametrize("size", [(390, 844), (844, 390), (1024, 768), (800, 1280)])
def test_on_phones_and_tablets_everything_is_within_their_width(
    page: Page, stage: Stage, size: tuple[int, int]
) -> None:
    rim(stage, max_deviation_mm=0.321)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    opened(page, stage, unit="in", lang="de")
    expect(page.locator(".figure-digits")).to_have_text("0.0126")
    assert cut_off(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") == size[0]


def test_until_somebody_touches_the_page_it_says_that_there_is_no_sound(page: Page, stage: Stage) -> None:
    rim(stage)
    opened(page, stage)
    expect(page.locator(".touch")).to_be_visible()
    page.locator(".figure").click()
    expect(page.locator(".touch")).to_be_hidden()


def test_settings_are_made_on_the_page_and_shown_at_once(page: Page, stage: Stage) -> None:
    rim(stage)
    opened(page, stage, sound=False)
    page.get_by_role("button", name="Settings").click()
    pages = page.get_by_role("navigation", name="Pages").get_by_role("link")
    assert [one.get_attribute("href") for one in pages.all()] == ["/wall", "/bench", "/history"]
    page.get_by_role("radio", name="inches").check()
    expect(page.locator(".figure-digits")).to_have_text("0.0064")
    page.get_by_role("radio", name="Deutsch").check()
    expect(page.locator(".figure-check")).to_have_text("Rundlaufabweichung")
    page.get_by_role("radio", name="dunkel").check()
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    page.keyboard.press("Escape")
    page.reload()
    expect(page.locator("html")).to_have_attribute("lang", "en")  # as the test writes it at each load


def test_what_is_pressed_is_as_large_as_a_thumb_in_a_glove(page: Page, stage: Stage) -> None:
    rim(stage)
    stage.bay("greywacke/bay-3")
    opened(page, stage, "?bay=" + BAY)
    page.get_by_role("button", name="Settings").click()
    sizes = page.evaluate(
        """() => [...document.querySelectorAll('button, input, a')].filter(one => one.getClientRects().length)
        .map(one => one.getBoundingClientRect()).map(box => Math.min(box.width, box.height))"""
    )
    assert len(sizes) >= 12
    assert min(sizes) >= 15 / 25.4 * 96 - 0.01


def test_only_what_changed_is_touched(page: Page, stage: Stage) -> None:
    rim(stage)
    opened(page, stage)
    expect(page.locator(".figure-digits")).to_have_text("0.162")
    page.evaluate(
        """() => { window.touched = []; new MutationObserver(all => all.forEach(one => window.touched.push(
        one.target.className?.baseVal ?? one.target.className ?? one.target.parentElement?.className)))
        .observe(document.body, {subtree: true, childList: true, attributes: true, characterData: true}); }"""
    )
    stage.bay(live=live("rim"))
    stage.bay(live=live("rim", readings=401))
    expect(page.locator(".figure-beside")).to_contain_text("401")
    assert set(page.evaluate("window.touched")) == {"figure-beside"}


def test_nothing_grows_over_a_day(page: Page, stage: Stage) -> None:
    """Each of some hundred figures is drawn: nodes, listeners and memory stay as they were."""
    rim(stage)
    opened(page, stage)
    expect(page.locator(".figure-digits")).to_have_text("0.162")
    devtools = page.context.new_cdp_session(page)
    devtools.send("Performance.enable")

    def counted() -> dict[str, float]:
        devtools.send("HeapProfiler.collectGarbage")
        told = devtools.send("Performance.getMetrics")["metrics"]
        return {one["name"]: one["value"] for one in told}

    def sweep(readings: int, last_mm: float) -> None:
        for n in range(readings):
            figures = {
                "angle_deg": n * 7.3 % 360,
                "value_mm": n % 7 / 100,
                "readings": n,
                "covered_deg": n * 1.5,
            }
            stage.bay(live=live("rim", **figures, max_deviation_mm=n / 1000, warnings=["back"] * (n % 3)))
            page.evaluate("() => new Promise(requestAnimationFrame)")
        stage.bay(live=live(), result=result(revision=1000 + int(last_mm * 1000)))
        expect(page.locator(".verdict-word")).to_have_text("INCOMPLETE")
        stage.bay(live=live("rim", max_deviation_mm=last_mm))
        expect(page.locator(".figure-digits")).to_have_text(f"{last_mm:.3f}")

    sweep(600, 0.111)  # until the engine has compiled what it will
    before = counted()
    sweep(300, 0.222)
    after = counted()
    assert after["Nodes"] <= before["Nodes"] + 20
    assert after["JSEventListeners"] == before["JSEventListeners"]
    assert after["JSHeapUsedSize"] <= before["JSHeapUsedSize"] + 300_000  # less than the messages themselves


@pytest.mark.parametrize("theme", ["day", "dark"])
def test_nothing_serious_for_who_sees_or_hears_less(page: Page, stage: Stage, theme: str) -> None:
    rim(stage, max_deviation_mm=0.5, warnings=["barred back"])
    opened(page, stage, theme=theme)
    expect(page.locator(".above")).to_be_visible()
    looked_at(page)
    stage.bay(live=live())
    expect(page.locator(".verdict-word")).to_be_visible()
    looked_at(page)
    stage.bay("greywacke/bay-3", live=live("face"))
    expect(page.locator(".tile")).to_have_count(2)
    looked_at(page)


@pytest.mark.parametrize("number", [1, 2, 5, 12])
def test_several_bays_side_by_side_and_one_of_them_large(page: Page, stage: Stage, number: int) -> None:
    for n in range(1, number + 1):
        stage.bay(f"greywacke/bay-{n}", live=live("rim", max_deviation_mm=n / 1000), result=result())
    opened(page, stage)
    if number == 1:
        expect(page.locator(".figure-digits")).to_have_text("0.001")
        return
    tiles = page.locator(".tile")
    expect(tiles).to_have_count(number)
    expect(tiles.nth(number - 1)).to_contain_text(f"0.{number:03d}")
    expect(tiles.nth(number - 1)).to_contain_text("GQ-E-2207")
    assert cut_off(page) == []
    for caution in CAUTIONS:
        expect(page.locator(".grid .cautions")).to_contain_text(caution)
    tiles.nth(1).click()
    expect(page.locator(".wall-title")).to_have_text("greywacke/bay-2")
    expect(page.locator(".figure-digits")).to_have_text("0.002")
    assert page.url.endswith("?bay=greywacke%2Fbay-2")
    page.keyboard.press("Escape")
    expect(tiles.first).to_be_visible()
