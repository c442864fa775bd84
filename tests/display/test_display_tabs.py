"""The walks of the bench: found again, nobody else's, and a key pressed counts for what was seen, once."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from display.web import tabs as tabs_module
from display.web.tabs import KEPT_S, OTHER_UNIT
from tests.display.site import OWN, TAB, Site, act, bench, settled, site, stream
from tests.ringtrue.inspecting.bay import MemoryBay, memory_bay

pytestmark = pytest.mark.slow

OTHER = "f" * 32
OPENING = {"open.engine": "GQ-E-2207", "open.damper": "GQ-D-0815"}


@asynccontextmanager
async def bay_and_site(folder: Path) -> AsyncIterator[tuple[MemoryBay, Site]]:
    async with memory_bay(folder) as bay, site(folder, bay.line, now_s=bay.now_s) as made:
        yield bay, made


async def test_a_reload_goes_on_where_it_was_with_what_was_typed(tmp_path: Path) -> None:
    async with bay_and_site(tmp_path) as (_, made), made.entered() as browser:
        async with stream(browser, bench()) as page:
            first = await page.until("page", lambda told: told["name"] == "start")
            field, key = first["fields"][0]["id"], first["choices"][0]["key"]
            assert (await act(browser, "start", key, {field: "GQ-E-2207"})).status_code == 204
            now = await page.until("page", lambda told: told["name"] != "start" or told["notice"])
        async with stream(browser, bench()) as again:
            same = await again.until("page")
    assert same == now
    assert [one["value"] for one in same["fields"] if one["id"] == field] in ([], ["GQ-E-2207"])


async def test_another_persons_tab_of_the_same_id_is_its_own(tmp_path: Path) -> None:
    async with bay_and_site(tmp_path) as (_, made), made.entered() as one, made.entered("Q. Sample") as two:
        async with stream(one, bench()) as first, stream(two, bench()) as second:
            assert (await first.until("page"))["person"] == "R. Example"
            assert (await second.until("page"))["person"] == "Q. Sample"
            assert len(made.world.tabs._tabs) == 2
        assert (await act(two, "start", "x", tab=OTHER)).status_code == 409
        stranger = await two.post("/bench/photo", params={"tab": OTHER}, content=b"")
        assert stranger.status_code == 409


async def test_two_tabs_of_one_person_walk_apart(tmp_path: Path) -> None:
    async with (
        bay_and_site(tmp_path) as (_, made),
        made.entered() as browser,
        stream(browser, bench()) as one,
        stream(browser, bench(OTHER)) as two,
    ):
        told = await one.until("page", lambda told: told["name"] == "start")
        await two.until("page", lambda told: told["name"] == "start")
        field, key = told["fields"][0]["id"], told["choices"][0]["key"]
        assert (await act(browser, "start", key, {field: "GQ-E-2207"})).status_code == 204
        walks = list(made.world.tabs._tabs.values())
        assert [walk._walker.typed[field] for walk in walks] == ["GQ-E-2207", ""]


@pytest.mark.parametrize(
    "path", ["/bench/stream", "/bench/stream?tab=12", f"/bench/stream?tab={TAB}&unit=ft"]
)
async def test_a_stream_asks_for_a_tab_and_a_unit(path: str, tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.entered() as browser:
        answer = await browser.get(path)
    assert answer.status_code == 400
    assert "\n" not in answer.json()["error"]


async def test_a_walk_that_nobody_looks_at_is_put_away_in_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tabs_module, "TICK_S", 0.01)
    async with bay_and_site(tmp_path) as (bay, made), made.entered() as browser:
        walks = made.world.tabs._tabs
        async with stream(browser, bench()) as page:
            await page.until("page")
            made.clock.now_s += KEPT_S + 1  # it is looked at
            await page.until("alive")
            assert len(walks) == 1
        await settled(lambda: not next(iter(walks.values())).is_shown)
        made.clock.now_s += KEPT_S + 1
        await settled(lambda: not walks)
        await settled(lambda: len(bay.line._clients) == 1)  # the feed's alone
        assert (await act(browser, "start", "enter")).status_code == 409


async def test_only_so_many_walks_are_begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tabs_module, "TABS_MAX", 1)
    monkeypatch.setattr(tabs_module, "SPARE_MAX", 0)
    async with (
        bay_and_site(tmp_path) as (_, made),
        made.entered() as browser,
        stream(browser, bench()) as page,
    ):
        await page.until("page")
        assert (await browser.get(bench(OTHER))).status_code == 503


async def test_another_unit_clears_the_numbers_that_were_typed(tmp_path: Path) -> None:
    async with (
        bay_and_site(tmp_path) as (_, made),
        made.entered() as browser,
        stream(browser, bench()) as page,
    ):
        told = await page.until("page", lambda told: told["name"] == "start")
        number = next(one["id"] for one in told["fields"] if one["number"])
        await act(browser, "start", told["choices"][0]["key"], {number: "12"})
        walk = made.world.tabs._tabs[next(iter(made.world.tabs._tabs))]
        assert walk._walker.typed[number] == "12"
        async with stream(browser, bench(unit="in")) as other:
            await other.until("page")
            assert walk._walker.typed.get(number, "") == ""


async def test_a_key_of_a_page_in_one_unit_is_not_read_in_another(tmp_path: Path) -> None:
    async with (
        bay_and_site(tmp_path) as (_, made),
        made.entered() as browser,
        stream(browser, bench()) as page,
    ):
        told = await page.until("page", lambda told: told["name"] == "start")
        assert told["unit"] == "mm"
        number = next(one["id"] for one in told["fields"] if one["number"])
        async with stream(browser, bench(unit="in")) as other:
            assert (await other.until("page"))["unit"] == "in"
            key = told["choices"][0]["key"]
            late = await act(browser, "start", key, {number: "12"}, unit="mm")
            assert (late.status_code, late.json()["error"]) == (409, OTHER_UNIT)
            (walk,) = made.world.tabs._tabs.values()
            assert walk._walker.typed[number] == ""
            assert (await act(browser, "start", key, {number: "12"}, unit="in")).status_code == 204


async def test_a_page_that_has_changed_meanwhile_takes_no_key(tmp_path: Path) -> None:
    async with bay_and_site(tmp_path) as (bay, made), made.entered() as browser:
        async with stream(browser, bench()) as page:
            await page.until("page", lambda told: told["name"] == "start")
            for name, key in (("sign", "enter"), ("start", "no such key")):
                answer = await act(browser, name, key)
                assert answer.status_code == 409
                assert answer.json()["error"] == "The page has changed meanwhile: look again."
        assert bay.asked() == []


async def test_two_presses_at_once_are_one_command(tmp_path: Path) -> None:
    async with bay_and_site(tmp_path) as (bay, made), made.entered() as browser:
        async with stream(browser, bench()) as page:
            await page.until("page", lambda told: told["name"] == "start")
            await act(browser, "start", "enter", await _serials(page.heard[-1][1]))
            told = await page.until("page", lambda told: told["name"] != "start")
            answers = await asyncio.gather(*(act(browser, told["name"], "1") for _ in range(4)))
            assert sorted(answer.status_code for answer in answers) == [204, 409, 409, 409]
            await page.until("page", lambda told: told["inspection"])
        assert [name for name, _ in bay.asked()] == ["open"]
        assert bay.asked()[0][1]["operator"] == "R. Example"


async def _serials(told: dict[str, object]) -> dict[str, str]:
    fields = told["fields"]
    assert isinstance(fields, list)
    return {fields[0]["id"]: "GQ-E-2207", fields[1]["id"]: "GQ-D-0815"}


async def test_while_the_bay_is_away_only_what_needs_it_not_is_taken(tmp_path: Path) -> None:
    async with (
        bay_and_site(tmp_path) as (bay, made),
        made.entered() as browser,
        stream(browser, bench()) as page,
    ):
        await page.until("page", lambda told: told["name"] == "start")
        bay.line.cut()
        told = await page.until("page", lambda told: told["busy"])
        assert "BAY AWAY" in told["alarm"]
        answer = await act(browser, "start", "enter")
        assert (answer.status_code, answer.json()["error"]) == (
            409, "Not now: the bay is away, or has to answer first.",
        )  # fmt: skip
        bay.line.is_up = True
        await page.until("page", lambda told: not told["busy"])


async def test_a_walk_that_fails_shows_no_old_page_as_if_it_were_new(tmp_path: Path) -> None:
    async with bay_and_site(tmp_path) as (_, made), made.entered() as browser:
        async with stream(browser, bench()) as page:
            await page.until("page", lambda told: told["name"] == "start")
            (walk,) = made.world.tabs._tabs.values()
            walk._hearing.cancel()
            with pytest.raises(Exception, match="closed"):
                await page.ends()
        async with stream(browser, bench()) as again:
            await again.until("page", lambda told: told["name"] == "start")


@pytest.mark.parametrize(
    ("body", "word"),
    [
        (b"", "Not what a page sends"), (b"[]", "Not what a page sends"),
        (b'{"tab": 1, "name": "", "key": ""}', "tab"),
        (b'{"tab": "", "name": "", "key": "", "unit": "mm", "more": 1}', "more"),
        (b'{"tab": "", "name": "", "key": ""}', "unit"),
        (b'{"tab": "", "name": "", "key": "", "unit": "mm", "typed": {"a": 1}}', "typed"),
        (b'{"tab": "", "name": "' + b"n" * 3000 + b'", "key": ""}', "name"),
    ],
)  # fmt: skip
async def test_what_is_no_press_is_refused_in_a_line(body: bytes, word: str, tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.entered() as browser:
        answer = await browser.post("/bench/act", content=body, headers=OWN)
        assert answer.status_code == 400
        assert word in answer.json()["error"]
        assert "\n" not in answer.json()["error"]
        long = await browser.post("/bench/act", content=b"x" * 200_000)
        assert long.status_code == 413
