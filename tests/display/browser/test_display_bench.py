"""The bench page in a real browser, against the daemon itself: what a person at the engine does by clicks."""

from __future__ import annotations

from collections.abc import AsyncIterator
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from playwright.async_api import FilePayload, Page, expect

from tests.display.browser.bench_stand import (
    NAME,
    PHONE,
    WIDE,
    BenchBay,
    act,
    bench_bay,
    entered,
    opened,
    read,
    see,
)
from tests.link.outside import mosquitto

pytestmark = pytest.mark.slow


@pytest.fixture
async def bay(tmp_path: Path) -> AsyncIterator[BenchBay]:
    """A bay, its daemon and its pages up."""
    async with bench_bay(tmp_path) as made, made.running.up(), made.pages_up():
        yield made


async def all_good(page: Page, number: int) -> None:
    """Say good of every item of a check."""
    for n in range(1, number + 1):
        await see(page, f"{n} of {number}")
        await act(page, "good").click()


async def test_an_engine_from_open_to_the_signed_report(bay: BenchBay) -> None:
    page = await bay.tablet()
    await opened(page)
    await expect(page.locator(".rail-serials")).to_have_text("engine GQ-E-2207damper GQ-D-0815")
    await all_good(page, 8)
    await see(page, "LOOK ON THE ENGINE: GOOD")
    await act(page, "go on").click()
    await act(page, "begin, with indicator-1").click()
    await see(page, "Bar on, evenly")
    await expect(page.locator(".dial")).to_be_visible()
    await bay.stand.turn()
    await see(page, "RIM RUN-OUT: WITHIN")
    await expect(page.locator(".dial")).to_be_hidden()
    await act(page, "go on").click()
    bay.stand.set_on_face()
    await act(page, "begin, with indicator-1").click()
    await page.get_by_label("radius, mm").fill("150")
    await act(page, "begin, indicator-1").click()
    await see(page, "Bar on, evenly")
    await bay.stand.turn()
    await see(page, "FACE WOBBLE: WITHIN")
    await act(page, "go on").click()
    await act(page, "close").first.click()
    await act(page, "close it").click()
    await see(page, "before the lock comes off")
    await read(page)
    await see(page, "VERDICT: KEEP")
    await expect(page.get_by_label("your name")).to_have_value(NAME)
    await act(page, "sign it").click()
    await see(page, f"truck-14 is signed by {NAME}", "Next due")
    report = page.get_by_role("link", name="the report")
    assert await report.get_attribute("href") == "/report/truck-14.pdf?unit=mm"
    paper = await page.request.get(f"{bay.url}/report/truck-14.pdf?unit=mm")
    assert (paper.status, (await paper.body())[:5]) == (200, b"%PDF-")
    await act(page, "leave").click()
    await see(page, "You have left the bench.")
    await page.get_by_role("button", name="open again").click()
    await see(page, "Which engine, and which damper")
    (signed,) = [one for one in bay.running.records if one["state"] == "signed"]
    assert (signed["verdict"], signed["signed_by"], signed["damper"]["construction"]) == (
        "keep",
        NAME,
        "rolled",
    )


async def test_the_bench_with_keys_only_and_a_photo(bay: BenchBay) -> None:
    page = await bay.tablet(WIDE)
    await opened(page, "on the bench")
    await see(page, "1 of 6")
    photo = BytesIO()
    Image.new("RGB", (640, 480), "#8899aa").save(photo, "JPEG")
    camera = page.locator('input[type="file"]')
    picture = FilePayload(name="seen.jpg", mimeType="image/jpeg", buffer=photo.getvalue())
    await camera.set_input_files([picture])
    await see(page, "The picture is kept.", "1 picture")
    heic = b"\0\0\0\x18ftypheic" + bytes(40)
    await camera.set_input_files([FilePayload(name="seen.heic", mimeType="image/heic", buffer=heic)])
    await see(page, "NOT KEPT. A picture in HEIC cannot be read here: set the camera to JPEG.")
    for n in range(1, 7):
        await key(page, f"{n} of 6", "g")
    await key(page, "LOOK ON THE BENCH: GOOD", "Enter")
    await key(page, "begin, with micrometer-1", "1")
    await see(page, "Close the micrometer")
    bay.stand.key(0.001)
    for n, (station, radius) in enumerate(bay.running.files.method.thickness.order):
        await see(page, f"Measure at station {station:g}°, {radius} radius")
        await expect(page.locator(".map-place:not([data-empty])")).to_have_count(n)
        bay.stand.key(40.27 + 0.001 * (n % 3))
    await see(page, "put it on its setting standard, and press the gauge's key")
    bay.stand.key(0.001)
    await key(page, "THICKNESS: WITHIN", "Enter")
    await key(page, "1 of 8", "g")
    await see(page, "at least 10 °C")
    await page.keyboard.type("21,5\n")
    await key(page, "Put the penetrant on", "t")
    await expect(page.locator(".big")).to_have_text("0:02")
    await key(page, "wait 4:5", "e")
    await key(page, "It has not lasted 5 min", "Escape")
    await key(page, "3 of 8", "l")
    await expect(page.locator(".timer-time")).to_be_visible()


async def key(page: Page, seen: str, name: str) -> None:
    """Press a key once these words are seen, and the page takes it."""
    await see(page, seen)
    await expect(page.locator("button.act[aria-disabled]")).to_have_count(0)
    await page.keyboard.press(name)


async def test_what_is_typed_and_a_sweep_outlive_a_reload_and_the_server(bay: BenchBay) -> None:
    page = await bay.tablet(PHONE)
    await page.get_by_label("engine", exact=True).fill("GQ-E-2207")
    await page.reload()
    await expect(page.get_by_label("engine", exact=True)).to_have_value("GQ-E-2207")
    await opened(page)
    await act(page, "list of all checks").click()
    await act(page, "rim run-out").click()
    await act(page, "begin, with indicator-1").click()
    await see(page, "Bar on, evenly")
    await bay.stand.turn(180)
    await see(page, "bar 185° more")
    await page.reload()
    await see(page, "truck-14: rim run-out, indicator-1", "bar 185° more")
    drawn = await page.locator(".dial-trace").get_attribute("d")
    assert drawn is not None
    assert drawn.count("L") + drawn.count("M") > 10  # what was read before the reload too
    await bay.stand.turn(200)
    await see(page, "RIM RUN-OUT: WITHIN")


async def test_the_server_gone_and_back_knows_who_is_there_and_what_is_typed(tmp_path: Path) -> None:
    async with bench_bay(tmp_path) as bay, bay.running.up():
        async with bay.pages_up():
            page = await bay.tablet()
            await page.get_by_label("engine", exact=True).fill("GQ-E-2207")
        port = int(bay.url.rpartition(":")[2])
        await see(page, "SERVER AWAY", "what is typed stays here")
        await page.get_by_label("damper", exact=True).fill("GQ-D-0815")
        await expect(act(page, "go on")).to_be_disabled()
        async with bay.pages_up(port):
            await expect(act(page, "go on")).to_be_enabled()
            await expect(page.locator(".away")).to_be_hidden()
            await expect(page.get_by_label("engine", exact=True)).to_have_value("GQ-E-2207")
            await expect(page.get_by_label("damper", exact=True)).to_have_value("GQ-D-0815")
        (tmp_path / "var/sessions.json").unlink()
        async with bay.pages_up(port):  # nobody is known any more
            await page.wait_for_url("**/enter?next=%2Fbench")
            await entered(page, bay.credential)
            await see(page, "Which engine")
            await expect(page.get_by_label("engine", exact=True)).to_have_value("GQ-E-2207")
            await expect(page.get_by_label("damper", exact=True)).to_have_value("GQ-D-0815")


async def test_the_broker_gone_and_back(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        lines = f'url = "mqtt://127.0.0.1:{broker.address.port}"'
        async with bench_bay(tmp_path, lines) as bay, bay.running.up(), bay.pages_up():
            page = await bay.tablet()
            await opened(page)
            await act(page, "list of all checks").click()
            await act(page, "rim run-out").click()
            await act(page, "begin, with indicator-1").click()
            await see(page, "Bar on, evenly")
            await bay.stand.turn(90)
            await broker.kill()
            await see(page, "BAY AWAY")
            await expect(page.locator(".figure")).to_be_hidden()
            await expect(act(page, "end this sweep")).to_be_disabled()
            await bay.stand.turn(290)
            await broker.start()
            await see(page, "RIM RUN-OUT: WITHIN")
            await expect(page.locator(".away")).to_be_hidden()


async def test_two_tablets_see_the_same(bay: BenchBay) -> None:
    one, two = await bay.tablet(), await bay.tablet(PHONE, theme="dark")
    await opened(one)
    await see(two, "Bay greywacke/bay-2 has one open: truck-14")
    await act(two, "yes").click()
    await two.set_viewport_size({"width": 390, "height": 480})
    await act(two, "read").click()  # their end is out of sight: it reads on
    assert await two.locator(".bench-main").evaluate("node => node.scrollTop") > 0
    await expect(two.locator("body")).to_have_attribute("data-page", "cautions")
    await two.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    await read(two)
    await see(two, "1 of 8")
    await act(one, "good").click()
    await see(two, "2 of 8")
    await act(two, "list of all checks").click()
    await act(two, "rim run-out").click()
    await act(two, "begin, with indicator-1").click()
    await see(one, "Bar on, evenly")
    await bay.stand.turn()
    await see(one, "RIM RUN-OUT: WITHIN")
    await see(two, "RIM RUN-OUT: WITHIN")


async def test_a_main_action_pressed_twice_is_done_once_and_a_refusal_is_told(bay: BenchBay) -> None:
    page = await bay.tablet()
    await page.get_by_label("engine", exact=True).fill("GQ-E-2207")
    await page.get_by_label("damper", exact=True).fill("GQ-D-0815")
    await page.get_by_label("its name").fill("a name with blanks")
    acts: list[str] = []
    page.on("request", lambda asked: acts.append(asked.url) if asked.url.endswith("/act") else None)
    await act(page, "go on").dblclick()
    await see(page, "What is inspected?")
    assert len(acts) == 1
    await act(page, "on the engine").click()
    await expect(page.locator(".notice")).to_contain_text("NOT DONE. open: inspection")
    await expect(act(page, "on the engine")).to_be_enabled()
    await act(page, "back").click()
    await expect(page.get_by_label("its name")).to_have_value("a name with blanks")
    # Another page of the same walk has gone on meanwhile.
    cookies = {one["name"]: one["value"] for one in await page.context.cookies()}
    assert list(cookies) == ["ringtrue"]
    tab = await page.evaluate("sessionStorage.getItem('tab')")
    said = {"tab": tab, "name": "scope", "key": "1", "unit": "mm", "typed": {}}
    answer = await page.request.post(f"{bay.url}/bench/act", data=said, headers={"X-Ringtrue": "1"})
    assert answer.status == 409
    assert "has changed" in (await answer.json())["error"]


async def test_a_scanner_fills_the_form_and_presses_no_key(bay: BenchBay) -> None:
    page = await bay.tablet(WIDE)
    engine, damper = (page.get_by_label(name, exact=True) for name in ("engine", "damper"))
    await expect(engine).to_be_focused()
    await page.keyboard.type("gq-e-2207\n")
    await expect(damper).to_be_focused()
    await page.locator("#title").click()
    await scan(page, "gq-d-0815")
    await expect(damper).to_have_value("gq-d-0815")
    await expect(engine).to_have_value("gq-e-2207")
    await opened(page)
    await see(page, "1 of 8")
    await scan(page, "bag")
    await see(page, "Scanned: bag. Nothing is asked here.", "1 of 8")


async def scan(page: Page, text: str) -> None:
    """As a scanner: faster than a browser can be told key by key."""
    await page.evaluate(
        """text => [...text, "Enter"].forEach(key =>
            document.activeElement.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true })))""",
        text,
    )


async def test_who_is_not_let_in_is_told_and_whoever_leaves_is_asked_again(bay: BenchBay) -> None:
    context = await bay.browser.new_context(viewport={"width": 800, "height": 1280}, locale="en-GB")
    bay.contexts.append(context)
    page = await context.new_page()
    await page.goto(f"{bay.url}/bench")
    await page.get_by_role("button", name="go in").click()
    await see(page, "Your name is needed", "“ringtrue run” says at its start where it lies")
    await page.get_by_label("Your name").fill(NAME)
    await page.get_by_label("The bay's credential").fill("wrong")
    await page.get_by_role("button", name="go in").click()
    await see(page, "This is not the bay's credential.")
    await page.get_by_role("button", name="Settings").click()
    await page.get_by_role("radio", name="Deutsch").check()
    await page.keyboard.press("Escape")
    await page.get_by_role("button", name="hinein").click()
    await see(page, "Das ist nicht das Kennwort des Platzes.")
    await page.get_by_role("button", name="Einstellungen").click()
    await page.get_by_role("radio", name="English").check()
    await page.keyboard.press("Escape")
    await entered(page, bay.credential)
    await see(page, NAME, "may do all")
    await page.get_by_role("button", name="log out").click()
    await page.wait_for_url("**/enter?next=/bench")
    await page.goto(f"{bay.url}/bench")
    await page.wait_for_url("**/enter?next=/bench")


async def test_inches_and_german_are_asked_of_the_server_anew(bay: BenchBay) -> None:
    page = await bay.tablet(WIDE, theme="dark")
    await page.get_by_label("hours", exact=True).fill("11840")
    await page.get_by_label("engine", exact=True).fill("GQ-E-2207")
    streams: list[str] = []
    page.on("request", lambda asked: streams.append(asked.url) if "/stream" in asked.url else None)
    await page.get_by_role("button", name="Settings").click()
    await page.get_by_role("radio", name="inches").check()
    await page.get_by_role("radio", name="Deutsch").check()
    await page.keyboard.press("Escape")
    await see(page, "abmelden", "Welcher Motor")
    assert "unit=in" in streams[-1]
    assert "lang=de" in streams[-1]
    await expect(page.locator("input[name='open.engine']")).to_have_value("GQ-E-2207")
    await expect(page.locator("input[name='open.hours']")).to_have_value("")


async def test_a_number_typed_in_one_unit_is_gone_where_the_page_comes_back_in_another(bay: BenchBay) -> None:
    page = await bay.tablet(WIDE)
    await page.get_by_label("hours", exact=True).fill("11840")
    await page.get_by_label("engine", exact=True).fill("GQ-E-2207")
    # The browser has let this page go to save memory, and another page of it sets the unit meanwhile.
    await page.goto("about:blank")
    other = await page.context.new_page()
    await other.goto(f"{bay.url}/wall")
    await other.evaluate("localStorage.setItem('ringtrue', JSON.stringify({unit: 'in'}))")
    await page.goto(f"{bay.url}/bench")
    await expect(page.get_by_label("engine", exact=True)).to_have_value("GQ-E-2207")
    await expect(page.get_by_label("hours", exact=True)).to_have_value("")
