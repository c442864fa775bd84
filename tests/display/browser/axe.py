"""What axe-core finds amiss on a page for who sees or hears less."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page


def looked_at(page: Page) -> None:
    """Nothing grave, by WCAG 2.1, levels A and AA."""
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]}).response
    grave = [one["id"] for one in found["violations"] if one["impact"] in ("serious", "critical")]
    assert grave == []
