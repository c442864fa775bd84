"""A walk in German: what is shown is German, and what goes to the bay is what goes there in English."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.link.outside import until
from tests.ringtrue.inspecting.bay import MemoryBay, memory_bay, round_rim
from tests.ringtrue.inspecting.screen import Screen, screen_of

pytestmark = pytest.mark.slow


async def opened(screen: Screen, scope: str) -> None:
    await screen.see("Welcher Motor, und welcher Dämpfer ist daran?")
    await screen.type("GQ-E-2207", "GQ-D-0815", "11840", "", "", "gebördelt", "Visko", "", "truck-14")
    await screen.see("Was wird inspiziert?", "Motor GQ-E-2207, Dämpfer GQ-D-0815.")
    await screen.press(scope)
    await screen.see("zuerst lesen")
    await screen.press("enter")


def sent(bay: MemoryBay, name: str) -> list[dict[str, Any]]:
    return [said for command, said in bay.asked() if command == name]


async def test_a_rim_is_measured_in_german_and_the_bay_hears_what_it_always_hears(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay, language="de") as screen:
        await opened(screen, "1")
        (asked,) = sent(bay, "open")
        assert (asked["construction"], asked["family"], asked["scope"]) == ("rolled", "viscous", "on-engine")
        # Cautions and the method's items come as they are written, whatever the language.
        await screen.see(
            "Sichtprüfung am Motor: 1 von 8", "Spilled silicone is slippery", "[g] gut: es ist so"
        )
        await screen.press("g")
        await screen.see("2 von 8")
        await screen.press("b")
        await screen.type("am Deckel")
        await screen.see("3 von 8")
        seen = [said["items"][0] for said in sent(bay, "record")]
        assert seen == [
            {"item": "oil", "seen": "good"},
            {"item": "leak", "seen": "bad", "note": "am Deckel"},
        ]
        await screen.press("l", "2", "1")
        await screen.see("Kurbelwelle weiter durchdrehen", "never turn the engine by the damper")
        await bay.bar(round_rim(0.1), 180)
        await screen.see("erfasst 180°, noch 185° durchdrehen", "Grenzwert 0.280 mm")
        await screen.press("e")
        await screen.see("Sind Sie sicher?", "Die Umdrehung ist nicht voll: es fehlen noch 185°")
        await screen.press("n")
        await bay.bar(round_rim(0.1), from_deg=182)
        await screen.see("RUNDLAUFABWEICHUNG: INNERHALB", "weiter: Planlaufabweichung")
        result = bay.bench.journal.latest_result()
        assert result is not None
        assert b'"outcome":"within"' in result.document


async def test_a_place_that_was_typed_wrong_is_named_by_its_german_letter(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay, language="de") as screen:
        await opened(screen, "2")
        await screen.press("l", "2", "p")
        await screen.see("Schritt, mm", "wie in der Methode")
        await screen.type("", "")
        await screen.see("auf das Einstellmaß setzen und eintippen", "Wert, mm")
        await screen.type("0,001")
        station, radius = bay.bench.files.method.thickness.order[0]
        assert radius == "outer"
        await screen.see(f"Messen an: Messstelle {station:g}°, Radius außen. Dann eintippen")
        await screen.type("40,27")
        await screen.see("1 Messwert", "Radius innen")
        await screen.press("r")
        await screen.see("berichtigen: Dicke")
        await screen.type(f"{station:g}", "x", "40.28")
        await screen.see("der Radius ist a für außen, i für innen oder n für den Nullpunkt")
        assert len(sent(bay, "record")) == 2
        await screen.strike("backspace", *"außen", "enter", "enter")
        await screen.see("[r] einen eingetippten Wert berichtigen")
        await screen.ready()
        put_right = sent(bay, "record")[-1]
        assert (put_right["radius"], put_right["value_mm"], put_right["replace"]) == ("outer", 40.28, True)


@pytest.mark.parametrize("size", [(40, 20), (80, 24)])
async def test_what_is_asked_is_in_sight_in_german_too(tmp_path: Path, size: tuple[int, int]) -> None:
    async with memory_bay(tmp_path) as bay, screen_of(bay, size=size, language="de") as screen:
        await opened(screen, "3")
        await screen.see("1 von 8", *(["Bild ab: mehr"] if size == (40, 20) else []))
        await until(partial(screen.fits, size))
