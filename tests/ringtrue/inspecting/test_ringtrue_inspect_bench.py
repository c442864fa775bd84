"""On the bench: places by key, dwells that the bay times, notes, what is put off."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from records.photos import keep_photo
from tests.ringtrue.inspecting.bay import memory_bay
from tests.ringtrue.inspecting.screen import all_good, opened, screen_of

pytestmark = pytest.mark.slow


async def test_a_sound_damper_goes_through_all_of_the_bench(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen, "2")
        await all_good(screen, bay.bench.files.method, "visual-bench")
        await screen.see("LOOK ON THE BENCH: GOOD")
        await screen.press("enter")
        await screen.see("[1] begin, with micrometer-1")
        assert "indicator-1" not in screen.text  # it would fill all places with one
        await screen.press("1")
        await screen.see("Close the micrometer, or put it on its setting standard, and press")
        await bay.key(0.001)
        for n, (station, radius) in enumerate(bay.bench.files.method.thickness.order):
            await screen.see(f"Measure at station {station:g}°, {radius} radius")
            await bay.key(40.27 + 0.001 * (n % 3))
        await screen.see("next: its zero")
        await bay.key(0.001)
        await screen.see("THICKNESS: WITHIN")
        await screen.press("enter")
        await screen.see("penetrant test: 1 of 8", "flammable: ventilate")
        await screen.press("g")
        await screen.see("at least 10 °C, at most 50 °C")
        await screen.type("21,5")
        await screen.see("Put the penetrant on", "at least 5 min, at most 60 min")
        await screen.press("t")
        await screen.see("BIG 0:00", "wait 5:00 more", "flammable: ventilate")
        await bay.wait(130)
        await screen.see("BIG 2:10", "wait 2:50 more")
        await screen.press("e")
        await screen.see("are you sure?", "It has not lasted 5 min")
        await screen.press("n")
        await bay.wait(175)
        await screen.see("5 min reached, it may end now")
        await screen.press("e")
        await screen.see("ended; not recorded yet", "[g] record it: 5 min 5 s")
        await screen.press("g")
        await screen.see("then put the developer on thinly")
        await screen.press("m")
        await screen.type("12")
        for rest in ("flange", "rim", "faces", "edge"):
            await screen.see("flange and bolt holes" if rest == "flange" else "penetrant test")
            await screen.press("g")
        await screen.see("PENETRANT TEST: GOOD")
        result = bay.bench.journal.latest_result()
        assert result is not None
        assert b'"time_min":5.08' in result.document
        assert b'"temperature_c":21.5' in result.document


async def test_what_is_bad_has_its_note_and_what_is_put_off_is_told(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.see("1 of 8")
        await screen.press("w")
        await screen.type("wiped off")
        await screen.see("note: wiped off")
        await screen.press("n")
        await screen.see("2 of 8")
        await screen.press("b")
        await screen.see("BAD: what, and where?")
        await screen.type("drops at the joint")
        for number in range(3, 9):
            await screen.see(f"{number} of 8")
            await screen.press("g")
        await screen.see("LOOK ON THE ENGINE: BAD", "leak (drops at the joint)", "[Enter] look again")
        recorded = [said["items"][0] for name, said in bay.asked() if name == "record"]
        assert recorded[0] == {"item": "oil", "seen": "not seen", "note": "wiped off"}
        assert recorded[1] == {"item": "leak", "seen": "bad", "note": "drops at the joint"}
        await screen.press("l")
        await screen.see("[1] look on the engine: bad", "So far: REPLACE")


async def test_a_dwell_cut_short_is_done_again_from_the_beginning(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen, "2")
        await screen.press("l", "3")
        await screen.see("penetrant test: 1 of 8")
        await screen.press("g")
        await screen.see("penetrant test: 2 of 8")
        await screen.type("20")
        await screen.press("m")
        await screen.type("3")
        await screen.see(
            "PENETRANT TEST: INVALID", "at least 5 min is asked for", "[Enter] look again", "flammable"
        )
        await screen.press("enter")
        await screen.see("penetrant test: 1 of 8", "Clean the places down to bare metal")


async def test_the_gauge_is_lifted_and_what_came_of_it_is_told(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay) as screen:
        await opened(screen)
        await screen.press("l", "h")
        await screen.see("The plunger is lifted and let back three times")
        await screen.press("p")
        await screen.type("", "")
        for number, value in enumerate(("0.02", "0.02", "0.03"), 1):
            await screen.see(f"lift {number}: lift the plunger")
            await screen.type(value)
        await screen.see("3 of 3 lifts", "they differ by 0.010 mm")
        await screen.press("e")
        await screen.see("The repeatability test is over.", "Standard deviation")


async def test_a_picture_is_kept_beside_the_item_that_it_shows(tmp_path: Path) -> None:
    picture = tmp_path / "leak.jpg"
    Image.new("RGB", (8, 8)).save(picture)
    async with memory_bay(tmp_path) as bay:
        folder = bay.bench.files.settings.photos.folder
        async with screen_of(bay, keep=lambda file: keep_photo(file, folder)) as screen:
            await opened(screen)
            await screen.press("p")
            await screen.type(str(tmp_path / "none.jpg"))
            await screen.see("there is no such file", "a picture")
            await screen.strike(*["backspace"] * len("none.jpg"))
            await screen.type("leak.jpg")
            await screen.see("1 of 8", "1 picture")
        result = bay.bench.journal.latest_result()
        assert result is not None
        assert b'"photos":[{"file":"' in result.document
