"""Sentences of the daemon in a page's language: each as a whole or not at all, and none that nobody says."""

from __future__ import annotations

import ast
import json
from bisect import bisect
from collections.abc import Iterator
from dataclasses import replace

import pytest

from contract.live import Live
from display.told import NAME, causes, patterns, told
from display.walk.course import page_of
from display.walk.page import Page
from display.walk.steps import STEPS, next_step
from display.walk.view import View
from display.walk.words import NEXT
from display.words import Words
from tests.display.pages import CHECKS, PLAIN, result
from tests.display.pages import NAME as INSPECTION
from tests.display.texts import ROOT, names_of
from tests.display.told import samples

FILE = ROOT / "display/told.json"
HELD = (
    "true TIR 0.268 mm ± 0.011 mm (95 %) is not sure enough to hold against the limit of 0.28 mm (chance of "
    "being over: 1.4 %; rule: guarded acceptance and rejection, 95 % sure; look 1 asks for 97 %); the "
    "readings stand still at 0.131 mm from 80 to 104 degrees while the crank turns: the plunger sticks or "
    "has lost contact; see that it moves freely, then take the sweep again"
)
HELD_IN_GERMAN = (
    "wahre Laufabweichung (TIR) 0.268 mm ± 0.011 mm (95 %): nicht sicher genug, um gegen den Grenzwert 0.28 "
    "mm zu gelten (Wahrscheinlichkeit einer Überschreitung: 1.4 %; Regel: Annahme und Zurückweisung mit "
    "Sicherheitsabstand, zu 95 % sicher; Messung Nr. 1 verlangt 97 %); die Messwerte stehen still bei "
    "0.131 mm von 80 bis 104 Grad, während die Kurbelwelle dreht: der Messbolzen klemmt oder liegt nicht "
    "mehr an; dafür sorgen, dass er frei läuft, dann die Messung wiederholen"
)
SAID = {
    HELD: HELD_IN_GERMAN,
    "begin: the rim sweep and the face sweep are running; end or cancel it first": (
        "begin: Rundlaufmessung und Planlaufmessung laufen; zuerst beenden oder abbrechen"
    ),
    "thickness: not measured yet: station 0 outer, station 90 inner": (
        "Dicke: noch nicht gemessen: Messstelle 0 außen, Messstelle 90 innen"
    ),
    # A command is typed as it is called.
    "open: inspection truck-14 is open; close or abandon it first": (
        "open: Inspektion truck-14 ist offen; zuerst abschließen oder aufgeben"
    ),
    "inspection GQ-2 of 2026-10-03 does not count: inspection GQ-1 ended in replace by its penetrant, "
    "warm-leak, which this did not make again": (
        "Inspektion GQ-2 vom 2026-10-03 zählt nicht: Inspektion GQ-1 endete mit „ersetzen“ wegen "
        "Eindringprüfung, Dichtheitsprüfung, warm, was diese nicht noch einmal geprüft hat"
    ),
    "a checkpoint of 7 records of chain 3fa2, made 2026-11-02T08:00:00Z, was seen, and this journal holds 5 "
    "of it: was the journal put back from an older copy, or does another daemon use this name? Results go on "
    "in a chain that begins anew, and says so": (
        "ein Prüfstand der Kette 3fa2 mit 7 Aufzeichnungen, erstellt 2026-11-02T08:00:00Z, war zu sehen, und "
        "dieses Journal hat davon 5: wurde das Journal aus einer älteren Kopie zurückgespielt, oder benutzt "
        "ein anderer Daemon diesen Namen? Die Ergebnisse gehen in einer Kette weiter, die neu beginnt und es "
        "sagt"
    ),
    # What somebody typed may hold what parts sentences.
    "visual: found bad: leak (drips; a lot); dents": (
        "Sichtprüfung am Motor: als schlecht befunden: leak (drips; a lot); dents"
    ),
    "the latest repeatability test of 7 does not count: the lifts differ by 0.02 mm; begin again": (
        "die letzte Wiederholprüfung von 7 zählt nicht: die Abhebungen weichen um 0.02 mm voneinander ab; "
        "neu beginnen"
    ),
}
PUT_TOGETHER = (
    "left out", "and the method is for", "kW on by the method", "seen and good", "against the limit of",
    "it has 1 lift", "needs its ", ": it says that", ": it holds its display", "readings come {ms} ms",
    "{key}: expected", "with inspections on record", " left, {pace} ", "1 day ago",
)  # fmt: skip
"""Parts of sentences that the code makes of more than two pieces, or pydantic says."""


@pytest.mark.parametrize("sentence", SAID)
def test_a_sentence_is_said_in_german(sentence: str) -> None:
    assert told(sentence, "de") == SAID[sentence]
    assert told(sentence, "en") == sentence


@pytest.mark.parametrize(
    "sentence",
    [
        "the moon is made of cheese",
        "not measured yet; the moon is made of cheese",  # half of each would be read as neither
        "rim: (not measured yet",
        "",
        "__proto__: not what it is",
    ],
)
def test_what_is_not_known_stays_as_it_came(sentence: str) -> None:
    assert told(sentence, "de") == sentence
    assert told(sentence, "en") == sentence


def test_a_page_names_no_command_of_the_shell() -> None:
    over = (
        "clean and check the mounting, refit, and measure again before condemning the damper; refitted some "
        "bolt holes further on, `ringtrue separate` tells its run-out from the mounting's"
    )
    assert "`" not in told(f"rim: something new; {over}", "en") + told(over, "de")


def test_each_pattern_has_its_german_with_the_same_names_one_a_line() -> None:
    lines, catalogue = FILE.read_text().splitlines(), patterns()
    assert list(catalogue) == sorted(catalogue)
    assert len(lines) == len(catalogue) + 2
    for line, (text, said) in zip(lines[1:-1], catalogue.items(), strict=True):
        assert json.loads(f"{{{line.removesuffix(',')}}}") == {text: said}
        # What is left out of the German is only how a command is typed.
        assert names_of(said["de"]) <= names_of(text), text
        assert len(NAME.findall(text)) == len(names_of(text)), text


def test_whatever_stands_for_its_names_a_pattern_is_found_again() -> None:
    assert [sentence for sentence in samples() if told(sentence, "de") == sentence] == []


def test_every_pattern_is_said_by_the_code() -> None:
    """Whoever words a sentence anew does so in told.json too, or its German is lost."""
    said = "\0".join(_constants())
    lost = [
        text
        for text in patterns()
        if any(_pieces(part, said) > 2 for part in NAME.split(text)[::2])
        and not any(part in text for part in PUT_TOGETHER)
    ]
    assert lost == []


def _constants() -> Iterator[str]:
    for room in ("acquire", "contract", "display", "drivers", "grading", "records", "ringtrue"):
        for path in (ROOT / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    yield node.value


def _pieces(part: str, said: str) -> int:
    """Of how many pieces that are said somewhere it can be put together, the longest first."""
    count = 0
    while part:
        length = bisect(range(1, len(part) + 1), 0, key=lambda n: int(part[:n] not in said))
        if length == 0:
            return count + len(part)
        count, part = count + 1, part[length:]
    return count


# -- what is next


def outcome_page(outcome: str, reason: str, language: str = "en") -> Page:
    checks = {**CHECKS, "rim": {"outcome": outcome, "reason": reason, "limit_mm": 0.28}}
    view = View("1/2", live=Live(inspection=INSPECTION), result=result(checks=checks), words=Words(language))
    return page_of(view, replace(PLAIN, check="rim"), {})


def test_each_cause_that_has_a_step_is_a_pattern() -> None:
    assert set(STEPS) <= set(patterns())


def test_a_plunger_that_may_be_held_asks_to_see_to_it() -> None:
    """It is not too near the limit: that sentence named neither what is wrong nor what to do."""
    says = outcome_page("unclear", HELD).says
    assert says[1] == "See that the plunger moves freely and stands in mid-travel, then measure again."
    says = outcome_page("unclear", HELD, "de").says
    assert says[1].startswith("Dafür sorgen, dass der Messbolzen frei läuft")
    assert says[2] == HELD_IN_GERMAN


def test_a_cause_that_is_not_known_has_the_step_of_its_outcome() -> None:
    assert next_step("unclear", "the moon is made of cheese") == NEXT["unclear"]
    assert next_step("over", HELD) == NEXT["over"]


def test_of_a_sentence_within_another_the_cause_is_found() -> None:
    inner = "station 90 outer: its readings differ by 0.2 mm, at most 0.05 mm are allowed"
    assert set(causes(f"sets disagree: {inner}")) >= {"sets disagree: {told}", "station {deg} outer"}
