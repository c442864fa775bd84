"""The language of a page: the catalogue as it is fetched, and a walk that is shown in it."""

from __future__ import annotations

import json
from pathlib import Path

from httpx import ASGITransport, AsyncClient, Response
from starlette.applications import Starlette

from contract.lengths import UNITS
from display.walk.bay import BayAtHand
from display.web.said import said_routes
from display.web.tabs import Tabs
from display.words import ENGLISH, Words, texts
from tests.link.outside import until
from tests.ringtrue.inspecting.bay import memory_bay
from tests.ringtrue.inspecting.line import ADDRESS


async def got(path: str) -> Response:
    app = ASGITransport(Starlette(routes=said_routes()))
    async with AsyncClient(transport=app, base_url="http://bay.example") as client:
        return await client.get(path)


async def test_a_page_fetches_what_its_language_says() -> None:
    answer = await got("/words/de.json")
    assert answer.status_code == 200
    assert answer.json() == dict(texts("de"))
    assert answer.json()["rim run-out"] == "Rundlaufabweichung"
    assert (await got("/words/en.json")).json() == {}


async def test_a_language_that_is_not_there_is_not_found() -> None:
    answer = await got("/words/fr.json")
    assert answer.status_code == 404
    assert answer.json() == {"error": "no language 'fr' here: there are en and de"}


async def test_a_walk_of_the_bench_changes_its_language_and_keeps_what_is_typed(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay:
        tabs = Tabs(
            lambda person, on_news: BayAtHand(
                bay.topics,
                person,
                lambda: ADDRESS,
                unit=UNITS["mm"],
                now_s=bay.now_s,
                on_news=on_news,
                connect=bay.line.connect,
                chance=lambda: 0.0,
            )
        )
        tab = tabs.of("0" * 32, "one", "R. Example", "mm", words=ENGLISH)
        nudged = []
        with tab.shown(lambda: nudged.append(True)) as more:
            await until(lambda: "Which engine" in json.dumps(more()))
            assert tab.press("start", "none", {}, "mm") is not None
            assert tab.press("start", "enter", {"open.engine": "GQ-E-2207"}, "mm") is None
            assert (more() or {})["notice"] == "the damper's serial number is needed"
            nudged.clear()
            assert tabs.of("0" * 32, "one", "R. Example", "mm", words=Words("de")) is tab
            assert nudged
            page = more() or {}
            assert page["title"] == f"neue Inspektion, Messplatz {bay.topics.site}/{bay.topics.bay}"
            assert page["name"] == "start"
            assert page["fields"][0]["value"] == "GQ-E-2207"
        await tab.close()
