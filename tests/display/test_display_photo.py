"""Pictures from a tablet: onto the record or into no folder, and never more in memory than is meant."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx
import pytest
from PIL import Image
from starlette.requests import Request

from display.web import camera as camera_module
from display.web.body import pour
from tests.display.site import TAB, Page, Site, act, bench, settled, site, stream
from tests.ringtrue.inspecting.bay import MemoryBay, memory_bay

pytestmark = pytest.mark.slow

INSPECTION = "truck-14"


def jpeg(shade: int = 90, size: tuple[int, int] = (60, 40)) -> bytes:
    made = BytesIO()
    Image.new("RGB", size, (shade, 80, 70)).save(made, "JPEG")
    return made.getvalue()


@asynccontextmanager
async def opened(folder: Path) -> AsyncIterator[tuple[MemoryBay, Site, httpx.AsyncClient, Page]]:
    """A bench page on an inspection at the engine."""
    async with AsyncExitStack() as stack:
        bay = await stack.enter_async_context(memory_bay(folder))
        photos = bay.bench.files.settings.photos.folder
        made = await stack.enter_async_context(site(folder, bay.line, now_s=bay.now_s, photos=photos))
        async with made.entered() as browser, stream(browser, bench()) as page:
            told = await page.until("page", lambda told: told["name"] == "start")
            serials = {told["fields"][0]["id"]: "GQ-E-2207", told["fields"][1]["id"]: "GQ-D-0815"}
            serials |= {"open.name": INSPECTION}
            assert (await act(browser, "start", "enter", serials)).status_code == 204
            told = await page.until("page", lambda told: told["name"] != "start")
            assert (await act(browser, told["name"], "1")).status_code == 204
            await page.until("page", lambda told: told["inspection"] and not told["busy"])
            yield bay, made, browser, page


async def send(browser: httpx.AsyncClient, picture: Any, item: str = "casing", **more: str) -> httpx.Response:
    asked = {"tab": TAB, "inspection": INSPECTION, "check": "visual", "item": item, **more}
    return await browser.post("/bench/photo", params=asked, content=picture)


def first_item(bay: MemoryBay) -> str:
    return bay.bench.files.method.observed["visual"].item[0].id


async def test_a_picture_goes_onto_the_record(tmp_path: Path) -> None:
    async with opened(tmp_path) as (bay, made, browser, _):
        answer = await send(browser, jpeg(), first_item(bay), note="upper left")
        assert answer.status_code == 204, answer.text
        (name, said) = next(one for one in bay.asked() if one[0] == "photo")
        assert (name, said["note"], said["operator"]) == ("photo", "upper left", "R. Example")
        assert said["inspection"] == bay.bench.bay.latest
        assert [file.name for file in made.photos.iterdir()] == [said["file"]]


async def test_one_that_the_bay_refuses_leaves_nothing_behind(tmp_path: Path) -> None:
    async with opened(tmp_path) as (bay, made, browser, _):
        answer = await send(browser, jpeg(), "no such item")
        assert answer.status_code == 422
        assert answer.json()["error"]
        assert "\n" not in answer.json()["error"]
        assert list(made.photos.iterdir()) == []
        item = first_item(bay)
        assert (await send(browser, jpeg(), item)).status_code == 204
        kept = [file.name for file in made.photos.iterdir()]
        assert (await send(browser, jpeg(), "no such item")).status_code == 422
        assert [file.name for file in made.photos.iterdir()] == kept  # it is on record


NONE = [
    (b"", "is no JPEG, PNG or WebP picture"), (b"<svg/>", "is no JPEG"), (jpeg()[:80], "picture"),
    (b"\x00\x00\x00\x18ftypheic" + bytes(50), "HEIC"), (b"GIF89a" + bytes(50), "is no JPEG"),
]  # fmt: skip


@pytest.mark.parametrize(("sent", "word"), NONE)
async def test_what_is_no_picture_is_refused_in_a_line(sent: bytes, word: str, tmp_path: Path) -> None:
    async with opened(tmp_path) as (_, made, browser, __):
        answer = await send(browser, sent)
        assert answer.status_code == 422
        why = answer.json()["error"]
        assert word in why
        assert "\n" not in why
        assert "/" not in why  # no path of this machine
        assert not made.photos.exists() or list(made.photos.iterdir()) == []


async def test_one_of_too_many_pixels_is_refused_before_they_are_made(tmp_path: Path) -> None:
    made = BytesIO()
    Image.new("1", (8200, 8000)).save(made, "PNG")  # 8 kB
    async with opened(tmp_path) as (_, __, browser, ___):
        answer = await send(browser, made.getvalue())
    assert answer.status_code == 422
    assert "64 million pixels" in answer.json()["error"]


async def test_more_bytes_than_are_taken_are_not_held(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(camera_module, "PICTURE_BYTES_MAX", 100_000)
    monkeypatch.setattr("display.web.server.REQUEST_MAX_S", -29.0)  # who sends on is cut off after a second
    held = 0

    async def endless() -> AsyncIterator[bytes]:
        while True:
            yield bytes(10_000)

    async def counted(request: Request, most: int, into: Callable[[bytes], object]) -> None:
        def hold(chunk: bytes) -> None:
            nonlocal held
            held += len(chunk)
            into(chunk)

        await pour(request, most, hold)

    monkeypatch.setattr(camera_module, "pour", counted)
    async with opened(tmp_path) as (_, __, browser, ___):
        said = await send(browser, bytes(100_001))  # its length is told before it comes
        assert said.status_code == 413
        assert "larger than" in said.json()["error"]
        assert held == 0
        with pytest.raises(httpx.TransportError):
            await send(browser, endless())
        assert 0 < held <= 100_000


async def test_a_picture_taken_for_another_inspection_is_not_put_into_this_one(tmp_path: Path) -> None:
    async with opened(tmp_path) as (bay, made, browser, _):
        answer = await send(browser, jpeg(), first_item(bay), inspection="truck-13")
        assert answer.status_code == 422
        assert "another inspection" in answer.json()["error"]
        assert list(made.photos.iterdir()) == []
        assert "photo" not in [name for name, _ in bay.asked()]


async def test_while_the_bay_is_away_no_picture_is_taken(tmp_path: Path) -> None:
    async with opened(tmp_path) as (bay, made, browser, page):
        bay.line.cut()
        await page.until("page", lambda told: told["busy"])
        answer = await send(browser, jpeg(), first_item(bay))
        assert answer.status_code == 422
        assert "the bay is away" in answer.json()["error"]
        assert list(made.photos.iterdir()) == []


async def test_a_bay_that_does_not_answer_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(camera_module, "ANSWER_MAX_S", 0.1)
    async with opened(tmp_path) as (bay, made, browser, _):
        bay.deaf = True
        answer = await send(browser, jpeg(), first_item(bay))
        assert answer.status_code == 422
        assert "has not answered" in answer.json()["error"]
        assert len(list(made.photos.iterdir())) == 1  # it may be on record


async def test_pictures_come_in_few_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(camera_module, "AT_ONCE", 2)
    begun, go_on = 0, asyncio.Event()

    async def slow(picture: bytes) -> AsyncIterator[bytes]:
        nonlocal begun
        yield picture[:10]
        begun += 1
        await go_on.wait()
        yield picture[10:]

    async with opened(tmp_path) as (bay, made, browser, _):
        item = first_item(bay)
        sending = [
            asyncio.ensure_future(send(browser, slow(jpeg(shade)), item)) for shade in (10, 70, 130, 190)
        ]
        await settled(lambda: begun == 4)
        await settled(lambda: made.world.camera._few.locked())
        go_on.set()
        answers = await asyncio.gather(*sending)
        # One command of a walk at a time: the others are told so.
        assert {answer.status_code for answer in answers} <= {204, 422}
        assert any(answer.status_code == 204 for answer in answers)
        taken = [said["file"] for name, said in bay.asked() if name == "photo"]
        assert sorted(file.name for file in made.photos.iterdir()) == sorted(set(taken))
