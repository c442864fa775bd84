"""All bays together, in a browser: the figures of `ringtrue fleet`, in both languages and on a phone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from display.words import texts
from ringtrue.cli import main
from tests.display.browser.axe import looked_at
from tests.display.browser.test_display_browser_history import PASSWORD, Office, rows_of, serving
from tests.ringtrue.quarry_fleet import keep_fleet

pytestmark = pytest.mark.slow
CONFIG = """[bay]
site = "greywacke"
name = "bay-2"
[mqtt]
url = "mqtt://127.0.0.1:1"
username = "bay"
password_file = "password"
[method]
file = "example"
[angle]
source = "marks"
marks_deg = [0, 120, 240]
"""


@pytest.fixture(scope="module")
def bay(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("compared")
    (folder / "password").write_text(PASSWORD)
    (folder / "pages.toml").write_text(CONFIG)
    (folder / "var").mkdir()
    keep_fleet(f"sqlite:///{folder}/var/records.db")
    return folder


@pytest.fixture(scope="module")
def address(bay: Path) -> Iterator[str]:
    with serving(bay / "pages.toml") as made:
        yield made


@pytest.fixture(scope="module", autouse=True)
def _served_first(address: str) -> None:
    """Before Chromium runs: what makes the bay needs a loop of its own."""


def test_the_figures_are_those_of_the_command(
    chromium: Browser, address: str, bay: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["fleet", "bays", "--config", str(bay / "pages.toml"), "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)["bays"]
    office = Office(chromium, address)
    page = office.open("/history")
    page.get_by_role("link", name="All bays together").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("All bays together")
    sections = page.locator("section.panel")
    expect(sections).to_have_count(4)
    drifts = rows_of(page, "section.panel:nth-of-type(1) table")
    assert drifts[0][0].split() == ["GQ-D-803", "GQ-E-2203"]
    assert "by now" in drifts[0][5]
    rows = rows_of(page, "section.panel:nth-of-type(2) table")
    assert [row[0] for row in rows] == [one["reader"] for one in told["readers"]]
    mid, low, high = (f"{mm:+.3f}" for mm in told["readers"][0]["offset_mm"])
    assert rows[0][2:] == [f"{mid} ({low} to {high})", "below 0.1 %", "reads high"]
    assert rows[-1][2:4] == ["–", "–"]
    assert rows[-1][4].startswith("cannot be compared")
    methods = rows_of(page, "section.panel:nth-of-type(4) table")
    assert methods[0] == ["KEEP", "24", "100 (86 to 100)", "–"]
    office.context.close()
    assert office.complaints == []


@pytest.mark.parametrize(("lang", "theme", "width"), [("de", "day", 1280), ("en", "dark", 390)])
def test_it_is_read_in_both_languages_and_on_a_phone(
    chromium: Browser, address: str, lang: str, theme: str, width: int
) -> None:
    office = Office(chromium, address, lang=lang, theme=theme)
    office.page.set_viewport_size({"width": width, "height": 900})
    page = office.open("/history?compared")
    words = texts(lang)
    expect(page.get_by_role("heading", level=1)).to_have_text(
        words.get("All bays together", "All bays together")
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    looked_at(page)
    office.context.close()
    assert office.complaints == []
