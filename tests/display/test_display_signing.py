"""Who may sign what: by their own name, and against the verdict only as `own`."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from contract.live import Live
from contract.result import Result
from contract.wire import encode
from display.walk.course import page_of
from display.walk.place import Place
from display.walk.view import View
from display.web.people import Person
from tests.display.site import Page, act, bench, site, stream
from tests.display.test_display_doors import FOREMAN, PASSWORD, TECHNICIAN, Staff
from tests.ringtrue.inspecting.bay import MemoryBay, memory_bay

pytestmark = pytest.mark.slow

NAME, REMARK = "sign.name", "sign.remark"


@asynccontextmanager
async def closed(
    folder: Path, *people: Person, name: str = "R. Example"
) -> AsyncIterator[tuple[MemoryBay, httpx.AsyncClient, Page, dict[str, Any]]]:
    """A bench page where an inspection, of which nothing was done, waits for its signature."""
    staff = Staff(*people) if people else None
    now = None if staff is None else staff.now
    async with memory_bay(folder) as bay, site(folder, bay.line, people=now, now_s=bay.now_s) as made:
        for number, (command, more) in enumerate(
            (
                (
                    "open",
                    {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine", "inspection": "t-1"},
                ),
                ("close", {"inspection": "t-1"}),
            )
        ):
            said = {"id": f"c{number}", "operator": "R. Example", **more}
            bay._take(bay.topics.command(command), encode(said))
        password = {} if staff is None else {"password": PASSWORD}
        async with made.entered(name, **password) as browser, stream(browser, bench()) as page:
            await page.until("page", lambda told: told["name"] == "cautions")
            assert (await act(browser, "cautions", "enter")).status_code == 204
            told = await page.until("page", lambda told: told["name"].startswith("sign "))
            yield bay, browser, page, told


async def decide(browser: httpx.AsyncClient, page: Page, told: dict[str, Any], name: str) -> dict[str, Any]:
    assert (await act(browser, told["name"], "d", {NAME: name})).status_code == 204
    return await page.until("page", lambda now: now["notice"] or now["name"].startswith("decide"))


async def test_whoever_works_may_not_decide_against_the_verdict_and_is_told_before_it_is_typed(
    tmp_path: Path,
) -> None:
    async with closed(tmp_path, TECHNICIAN, FOREMAN) as (bay, browser, page, told):
        now = await decide(browser, page, told, "R. Example")
        assert now["notice"] == (
            "R. Example may not decide against the verdict: somebody of role own must enter."
        )
        assert now["name"] == told["name"]
    assert [name for name, _ in bay.asked()] == []


async def test_whoever_owns_the_method_may(tmp_path: Path) -> None:
    async with closed(tmp_path, TECHNICIAN, FOREMAN, name="Q. Sample") as (bay, browser, page, told):
        now = await decide(browser, page, told, "Q. Sample")
        assert (await act(browser, now["name"], "1")).status_code == 204
        now = await page.until("page", lambda now: now["name"].startswith("remark"))
        await act(browser, now["name"], "enter", {REMARK: "the hub is worn"})
        now = await page.until("page", lambda now: now["name"].startswith("question") or now["notice"])
        if now["name"].startswith("question"):
            assert (await act(browser, now["name"], "y")).status_code == 204
        await page.until("page", lambda now: now["name"] == "over signed")
        signed = [said for name, said in bay.asked() if name == "sign"][-1]
        assert (signed["name"], signed["operator"]) == ("Q. Sample", "Q. Sample")
        assert signed["decision"]


async def test_nobody_signs_by_anothers_name(tmp_path: Path) -> None:
    async with closed(tmp_path, TECHNICIAN, FOREMAN) as (bay, browser, page, told):
        assert next(one["value"] for one in told["fields"] if one["id"] == NAME) == "R. Example"
        assert (await act(browser, told["name"], "enter", {NAME: "Q. Sample"})).status_code == 204
        now = await page.until("page", lambda now: now["notice"])
        assert now["notice"] == (
            "R. Example has entered here: sign by that name, or whoever signs enters first."
        )
        assert bay.asked() == []
        await act(browser, told["name"], "enter", {NAME: " R. Example "})
        now = await page.until("page", lambda now: now["name"].startswith("question"))
        assert (await act(browser, now["name"], "y")).status_code == 204
        await page.until("page", lambda now: now["name"] == "over signed")


async def test_where_nobody_has_a_role_any_name_may_sign_and_decide(tmp_path: Path) -> None:
    async with closed(tmp_path) as (_, browser, page, told):
        now = await decide(browser, page, told, "Q. Sample")
        assert now["name"].startswith("decide")


async def test_a_key_for_one_inspection_never_signs_another() -> None:
    """A tablet that slept shows the page of before, and its key comes when another waits to be signed."""
    names = set()
    for inspection, verdict in (("t-1", "keep"), ("t-1", "replace"), ("t-2", "keep")):
        result = Result.model_validate(
            {
                "inspection": inspection, "revision": 3, "state": "closed", "site": "greywacke",
                "bay": "bay-2",
                "scope": "on-engine", "engine": {"serial": "E"}, "damper": {"serial": "D"},
                "opened": "2026-03-02T06:00:00Z", "method": {"id": "example", "version": "1", "sha256": "0"},
                "checks": {}, "verdict": verdict, "reasons": [], "software": "test", "readings_sha256": "0",
            }
        )  # fmt: skip
        view = View("greywacke/bay-2", live=Live(), result=result)
        for stage in ("", "decide", "remark"):
            place = Place(inspection=inspection, stage=stage, decision="keep")
            names.add(page_of(view, place, {}).name)
    assert len(names) == 3 + 3 + 2
