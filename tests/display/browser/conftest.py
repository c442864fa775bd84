"""Chromium for the tests of pages, Debian's own: nothing is downloaded."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.display.browser.wall_stage import Stage, staged

# What is awaited comes as soon as it can; on a busy machine that may take a while.
expect.set_options(timeout=45_000)
ARGS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """For each module anew: while it is there its event loop runs, and no asynchronous test can."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(ARGS))
        yield browser
        browser.close()


@pytest.fixture
def stage() -> Iterator[Stage]:
    with staged() as made:
        yield made


@pytest.fixture
def page(chromium: Browser, stage: Stage) -> Iterator[Page]:
    """A page that the stage outlives, and on which no error may come up."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    made = context.new_page()
    made.set_default_timeout(45_000)
    errors: list[str] = []
    made.on("pageerror", lambda error: errors.append(str(error)))
    made.on("console", lambda told: errors.append(told.text) if told.type == "error" else None)
    yield made
    context.close()
    assert errors == []
