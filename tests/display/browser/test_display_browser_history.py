"""The page of the records in a browser: it shows the figures that the commands print, and is used by keys."""

from __future__ import annotations

import asyncio
import json
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import structlog
from playwright.sync_api import Browser, Page, Route, expect

from config.settings import read_settings
from contract.lengths import UNITS
from display.web.app import application
from display.web.server import bound, serve
from display.words import texts
from ringtrue.cli import main
from ringtrue.pages import world_of
from tests.display.browser.axe import looked_at
from tests.display.quarry import quarry

pytestmark = pytest.mark.slow

PASSWORD = "of the bay"


@pytest.fixture(autouse=True)
def _structlog_as_before() -> Iterator[None]:
    yield
    structlog.reset_defaults()


@pytest.fixture(scope="module")
def bay(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return kept(tmp_path_factory.mktemp("quarry"))


def kept(folder: Path) -> Path:
    """The quarry; its broker is away, which is nothing to the records."""
    quarry(folder)
    (folder / "password").write_text(PASSWORD)
    (folder / "pages.toml").write_text(
        (folder / "ringtrue.toml").read_text()
        + '[mqtt]\nurl = "mqtt://127.0.0.1:1"\nusername = "bay"\npassword_file = "password"\n'
    )
    return folder


@contextmanager
def serving(config: Path) -> Iterator[str]:
    """Where the pages are served meanwhile, as they are beside a bay."""
    listening = bound("127.0.0.1", 0)
    port = listening.getsockname()[1]
    loop, stop = asyncio.new_event_loop(), asyncio.Event()
    failures: list[BaseException] = []
    app = application(world_of(read_settings(config, {})), failures.append)
    thread = threading.Thread(target=lambda: loop.run_until_complete(serve(app, listening, None, stop)))
    thread.start()
    yield f"http://127.0.0.1:{port}"
    loop.call_soon_threadsafe(stop.set)
    thread.join()
    loop.close()
    assert failures == []


@pytest.fixture(scope="module")
def address(bay: Path) -> Iterator[str]:
    with serving(bay / "pages.toml") as made:
        yield made


@pytest.fixture(scope="module", autouse=True)
def _served_first(address: str) -> None:
    """Before Chromium runs: what makes the bay needs a loop of its own."""


class Office:
    """A browser that was let in, and all that its console complains of."""

    def __init__(self, browser: Browser, address: str, **settings: Any) -> None:
        self.context = browser.new_context(base_url=address, viewport={"width": 1280, "height": 800})
        told = {"unit": "mm", "lang": "en", "theme": "day", "sound": False} | settings
        self.context.add_init_script(f"localStorage.setItem('ringtrue', JSON.stringify({json.dumps(told)}))")
        said: dict[str, str | float | bool] = {"name": "R. Example", "password": PASSWORD, "next": "/history"}
        answer = self.context.request.post("/enter", form=said, headers={"X-Ringtrue": "1"})
        assert answer.ok, answer.text()
        self.page: Page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on("console", lambda message: self._heard(message.type, message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _heard(self, kind: str, text: str) -> None:
        if kind in ("error", "warning"):
            self.complaints.append(text)

    def open(self, path: str) -> Page:
        self.page.goto(path)
        self.page.wait_for_selector("main[aria-busy=false]")
        return self.page


@pytest.fixture
def office(chromium: Browser, address: str) -> Iterator[Office]:
    opened = Office(chromium, address)
    yield opened
    opened.context.close()
    assert opened.complaints == []


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    main([*words, "--json"])
    return json.loads(capsys.readouterr().out)


def rows_of(page: Page, table: str) -> list[list[str]]:
    return [
        [" ".join(cell.split()) for cell in row.locator("th, td").all_inner_texts()]
        for row in page.locator(f"{table} tbody tr").all()
    ]


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("damper", ["GQ-D-0815", "GQ-D-0417", "GQ-D-0901"])
def test_the_figures_are_those_of_the_history_command(
    chromium: Browser, address: str, bay: Path, capsys: pytest.CaptureFixture[str], unit: str, damper: str
) -> None:
    told = printed(capsys, "history", damper, "--config", str(bay / "ringtrue.toml"))
    office = Office(chromium, address, unit=unit)
    page = office.open(f"/history?of={damper}")
    number = UNITS[unit].number
    assert set(told["checks"]) == {
        section.get_attribute("data-check") for section in page.locator("section.check").all()
    }
    for name, check in told["checks"].items():
        rows = rows_of(page, f"section.check[data-check={name}]")
        visits = check["visits"][::-1]
        assert [row[0] for row in rows] == [visit["date"] for visit in visits]
        for row, visit in zip(rows, visits, strict=True):
            figure = "no figure"
            if "figure_mm" in visit:
                figure = f"{number(visit['figure_mm'])} ± {number(visit['u_expanded_mm'])}"
            assert figure in row
            assert visit["outcome"] in [cell.lower() for cell in row]
            assert ("hours_h" not in visit) or f"{visit['hours_h']:,.0f}".replace(",", " ") in row
        said = page.locator(f"section.check[data-check={name}] .says").inner_text()
        trend = check["trend"]
        if "rate_mm" in trend:
            median, low, high = (number(rate, sign="+", more=1) for rate in trend["rate_mm"])
            assert f"{median} {unit} " in said
            assert f"({low} to {high}, 95 %)" in said
            assert f"Limit of {number(check['limit_mm'])} {unit} met" in said
        if "at_due_mm" in trend:
            assert f"{number(trend['at_due_mm'][0])} {unit} (" in said
    office.context.close()
    assert office.complaints == []


def test_the_fleet_stands_as_the_due_command_has_it(
    office: Office, bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = printed(capsys, "due", "--config", str(bay / "ringtrue.toml"))["engines"]
    page = office.open("/history")
    rows = rows_of(page, "table.fleet")
    words = {"ok": "not due yet", "due": "due now", "due-soon": "due soon", "unknown": "cannot tell"}
    for row, one in zip(rows[: len(told)], told, strict=True):
        assert row[0].split()[0] == one["engine"]
        assert row[2].startswith(words.get(one["state"], one["state"]))
    assert rows[-1][:3] == ["GQ-E-9001", "GQ-D-0950", "not in the register"]
    assert rows[0][6].endswith("of 2025-10-16")  # its thickness is older than its latest inspection
    assert not any(" of 20" in cell for cell in rows[0][4:6])
    assert any("drifting" in cell for cell in next(row for row in rows if row[0].startswith("GQ-E-2211")))


def test_the_fleet_is_sifted_by_keys_and_by_name(office: Office) -> None:
    page = office.open("/history")
    page.get_by_role("button", name="Drifting").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Drifting")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("table.fleet tbody tr:visible")).to_have_count(1)
    page.get_by_role("button", name="All").press("Space")
    page.get_by_label("Engine, damper or fleet name").fill("water")
    expect(page.locator("table.fleet tbody tr:visible")).to_have_count(1)
    page.get_by_label("Engine, damper or fleet name").fill("truck 15")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Damper GQ-D-0822")
    page.get_by_label("Engine, damper or fleet name").fill("gq-d-0417")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Damper GQ-D-0417")


def test_both_sweeps_are_drawn_and_told_apart_without_colour(office: Office) -> None:
    page = office.open("/history?of=GQ-D-0815")
    rim = page.locator("figure[data-check=rim]")
    style = "node => getComputedStyle(node).strokeDasharray"
    assert rim.locator(".overlay-now").first.evaluate(style) == "none"
    assert rim.locator(".overlay-before").first.evaluate(style) != "none"
    now, before = rows_of(page, "figure[data-check=rim] .wide")
    assert (now[0].split()[-1], now[-1]) == ("solid", "the readings")
    assert (before[0].split()[-1], before[-1]) == ("dashed", "the shape on record")
    assert rim.locator(".overlay-angle").all_text_contents() == [before[2], now[2]]
    page.get_by_label("Before").select_option("GQ-E-2207-2021-11-01")
    expect(rim.locator(".wide tbody tr").nth(1)).to_contain_text("2021-11-01")
    page.get_by_label("Before").select_option("none")
    expect(rim.locator("path.overlay-before")).to_have_count(0)


def test_a_chart_is_painted_and_says_where_its_figures_stand(office: Office) -> None:
    page = office.open("/history?of=GQ-D-0822")
    chart = page.locator("section.check[data-check=rim] .chart")
    expect(chart.locator("canvas")).to_be_visible()
    blank = "node => new Set(node.getContext('2d').getImageData(0, 0, node.width, node.height).data).size"
    assert chart.locator("canvas").evaluate(blank) > 10
    assert "same figures" in (chart.get_attribute("aria-label") or "")
    expect(page.locator("section.head")).to_contain_text("Put forward:")


def test_papers_and_photos_are_links_that_answer(office: Office) -> None:
    page = office.open("/history?of=GQ-D-0417")
    for name, kind in (
        ("Report of GQ-E-1986-2026-11-02", "application/pdf"),
        ("Picture of", "image/svg+xml"),
    ):
        href = page.get_by_role("link", name=re.compile(name)).first.get_attribute("href")
        answer = office.context.request.get(str(href))
        assert (answer.status, answer.headers["content-type"].split(";")[0]) == (200, kind)
    photo = page.locator(".photos img")
    photo.scroll_into_view_if_needed()
    expect(photo).to_have_js_property("naturalWidth", 320)
    assert photo.get_attribute("alt") == "look on the engine, dents, front, from below"


def test_what_is_not_on_record_is_said(chromium: Browser, address: str) -> None:
    office = Office(chromium, address)
    page = office.open("/history?of=GQ-D-0000")
    expect(page.get_by_role("alert")).to_contain_text("GQ-D-0000")
    page.get_by_role("link", name="Back to the fleet").click()
    expect(page.locator("table.fleet")).to_be_visible()
    office.context.close()


def test_a_keep_that_does_not_count_stands_nowhere_as_a_verdict(chromium: Browser, address: str) -> None:
    office = Office(chromium, address, lang="de")
    why = (
        "inspection GQ-9 of 2026-11-02 does not count: inspection GQ-8 ended in replace by its penetrant, "
        "which this did not make again"
    )

    def answer(route: Route) -> None:
        told = route.fetch().json()
        told["inspections"][0] |= {"verdict": "keep", "uncounted": why}
        told["uncounted"] = [why]
        route.fulfill(json={key: one for key, one in told.items() if key not in ("verdict", "next_due")})

    office.page.route("**/api/history/**", answer)
    page = office.open("/history?of=GQ-D-0901")
    head = page.locator(".panel.head")
    expect(head.locator(".large")).to_have_text("ZÄHLT NICHT")
    expect(head.locator(".care")).to_contain_text("was diese nicht noch einmal geprüft hat")
    expect(head).not_to_contain_text("Fälligkeit")
    first = page.locator("table.cards tbody tr", has_text="Fassung").first
    expect(first).to_contain_text("ZÄHLT NICHT")
    expect(first).to_contain_text("was diese nicht noch einmal geprüft hat")
    office.context.close()
    assert office.complaints == []


def test_a_keep_against_its_verdict_is_told_as_that(chromium: Browser, address: str) -> None:
    office = Office(chromium, address, lang="de")

    def answer(route: Route) -> None:
        told = route.fetch().json() | {"verdict": "keep", "against": "replace"}
        route.fulfill(json={key: one for key, one in told.items() if key not in ("next_due", "sooner")})

    office.page.route("**/api/history/**", answer)
    head = office.open("/history?of=GQ-D-0901").locator(".panel.head")
    expect(head.locator(".large")).to_have_text("BEHALTEN")
    expect(head).to_contain_text("Unterschrieben, gegen den Befund ERSETZEN")
    expect(head).to_contain_text("den Tag nennt die Seite der Flotte")
    office.context.close()
    assert office.complaints == []


def test_who_is_not_in_the_register_may_be_due_and_is_told_why(chromium: Browser, address: str) -> None:
    """And a damper on no engine that is to go is with them: the choice told 0."""
    office = Office(chromium, address)
    why = "its damper GQ-D-1 was inspected on GQ-E-2 since: import the fitting of the one that is on it"
    against = {"verdict": "replace", "decision": "keep", "signed_by": "R. Example"}
    bare = {"fleet": "", "checks": {}, "amiss": []}

    def answer(route: Route) -> None:
        told = route.fetch().json()
        last = next(row["last"] for row in told["rows"] if "last" in row)
        told["rows"] = [
            bare | {"engine": "GQ-E-1", "amiss": [why]},
            bare | {"engine": "GQ-E-2", "damper": "GQ-D-1", "last": last | against},
            bare | {"damper": "GQ-D-2", "last": last | {"verdict": "replace"}},
            bare | {"damper": "GQ-D-3", "last": last | {"verdict": "keep"}},
        ]
        route.fulfill(json=told)

    office.page.route("**/api/fleet", answer)
    page = office.open("/history")
    cells = rows_of(page, "table.fleet")
    assert [row[2] for row in cells] == [f"not in the register {why}", "not in the register", "–", "–"]
    assert cells[1][3].startswith("KEEP Signed by R. Example, against the verdict REPLACE")
    page.get_by_role("button", name="Due, or cannot tell").filter(has_text="3").click()
    expect(page.locator("table.fleet tbody tr:visible")).to_have_count(3)
    office.context.close()
    assert office.complaints == []


def test_a_page_that_was_left_open_tells_what_is_on_record_by_now(office: Office) -> None:
    page = office.open("/history?of=GQ-D-0901")
    latest = page.locator(".panel.head .large")
    seen = latest.inner_text()
    verdicts: list[str] = []

    def answer(route: Route) -> None:
        told = route.fetch().json()
        verdicts.append(told["verdict"])
        route.fulfill(json=told | ({"verdict": "replace"} if len(verdicts) > 1 else {}))

    page.route("**/api/history/**", answer)
    looked_at_again = "document.dispatchEvent(new Event('visibilitychange'))"
    page.evaluate("window.kept = document.querySelector('.panel.head')")
    with page.expect_response("**/api/history/**"):
        page.evaluate(looked_at_again)
    assert page.evaluate("window.kept.isConnected")  # as it was: nobody loses their place
    assert latest.inner_text() == seen != "REPLACE"
    page.evaluate(looked_at_again)
    expect(latest).to_have_text("REPLACE")


def test_who_was_not_let_in_is_asked_who_they_are(chromium: Browser, address: str) -> None:
    context = chromium.new_context(base_url=address)
    page = context.new_page()
    page.goto("/history")
    assert page.url.startswith(f"{address}/enter")
    assert context.request.get("/api/fleet").status == 401
    assert context.request.get("/report/truck-14-november.pdf").status == 401
    context.close()


@pytest.mark.parametrize("width", [390, 1280, 1920])
@pytest.mark.parametrize("path", ["/history", "/history?of=GQ-D-0417"])
def test_nothing_stands_beside_the_page(office: Office, width: int, path: str) -> None:
    office.page.set_viewport_size({"width": width, "height": 844})
    page = office.open(path)
    assert page.evaluate("document.documentElement.scrollWidth") == width


@pytest.mark.parametrize("path", ["/history", "/history?of=GQ-D-0417", "/history?of=GQ-E-2207"])
def test_what_is_pressed_is_as_large_as_a_thumb_in_a_glove(office: Office, path: str) -> None:
    small = office.open(path).evaluate(
        """least => [...document.querySelectorAll("a, button, summary, input, select")]
        .filter(one => one.checkVisibility() && !one.matches(".skip"))
        .filter(one => one.getClientRects().length)
        .map(one => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
        .filter(([_, box]) => Math.min(box.width, box.height) < least)
        .map(([html, box]) => `${html} ${box.width}×${box.height}`)""",
        15 / 25.4 * 96 - 0.01,
    )
    assert small == []


@pytest.mark.parametrize("theme", ["day", "dark"])
@pytest.mark.parametrize("path", ["/history", "/history?of=GQ-D-0815"])
def test_nothing_grave_for_who_sees_or_hears_less(
    chromium: Browser, address: str, theme: str, path: str
) -> None:
    office = Office(chromium, address, theme=theme)
    looked_at(office.open(path))
    office.context.close()
    assert office.complaints == []


def test_in_german_it_says_no_english_but_the_records_own(chromium: Browser, address: str) -> None:
    office = Office(chromium, address, lang="de")
    page = office.open("/history?of=GQ-D-0822")
    expect(page.get_by_role("heading", level=1)).to_have_text("Dämpfer GQ-D-0822")
    own = (
        "node => { node.querySelectorAll('[lang=en]').forEach(part => part.remove()); return node.innerText }"
    )
    said = page.locator("body").evaluate(own)
    assert {text for text in texts("de") if len(text) > 12 and "{" not in text and text in said} == set()
    office.open("/history")
    # Only what an office called an event stays as it was typed.
    kept = page.locator("main [lang=en]").all_text_contents()
    assert [text for text in kept if " " in text] == []
    said = page.locator("main").evaluate(own)
    assert {text for text in texts("de") if len(text) > 12 and "{" not in text and text in said} == set()
    office.context.close()
    assert office.complaints == []
