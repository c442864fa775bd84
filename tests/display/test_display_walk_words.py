"""The walk in German: nothing that it says is left in English, whatever page the bay asks for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, cast

import pytest

from contract.live import Live, TimerPart
from display.walk.bay import OFFLINE, BayAtHand
from display.walk.course import page_of
from display.walk.page import Choice, EntryError, Page, Values, number_of
from display.walk.place import Place
from display.walk.view import View
from display.walk.walker import Walker
from display.words import ENGLISH, Text, Words
from ringtrue.inspecting.style import CSS
from tests.display.pages import NAME, pages, result

GERMAN = Words("de")


class Marked(Words):
    """Says each text in brackets, its values outside of them as all that nobody said."""

    def say(self, text: str, /, **values: object) -> str:
        parts = re.split(r"(\{\w+\})", super().say(text))
        said = (str(values[part[1:-1]]) if part.startswith("{") else f"⟦{part}⟧" for part in parts)
        return "".join(said)


MARKED = Marked("de")
AS_IT_IS = re.compile(r"\b(mm|in|km|min|h|UTC)\b|°C")
"""Units, which are the same everywhere."""


def shown(page: Page) -> Iterator[str]:
    """All that a person may read of it."""
    yield page.title
    yield from page.says
    yield from page.rows
    for field in page.fields:
        yield from (field.label, field.hint)
    for choice in page.choices:
        yield choice.label
        yield choice.confirm or ""


def unsaid(text: str) -> str:
    """What stands outside of all brackets and is no unit."""
    return "".join(re.findall(r"[^\W\d_]+", AS_IT_IS.sub("", re.sub(r"⟦[^⟦⟧]*⟧", " ", text))))


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_no_page_shows_a_word_that_is_not_of_the_catalogue(unit: str) -> None:
    left = {text for page in pages(MARKED, unit) for text in shown(page) if unsaid(text)}
    assert left == set()


def test_the_pages_looked_at_are_all_that_there_are() -> None:
    names = {re.sub(r" (\d+|typed|None)\b", "", page.name).strip() for page in pages(ENGLISH)}
    assert {name.split()[0] for name in names} == {
        "asked", "begin", "cautions", "close", "decide", "facts", "grading", "join", "list", "look", "note",
        "outcome", "over", "photo", "put", "remark", "run", "scope", "sign", "start", "waiting",
    }  # fmt: skip


def test_a_page_in_german_asks_for_the_same_as_in_english() -> None:
    for english, german in zip(pages(ENGLISH), pages(GERMAN), strict=True):
        assert _asked(english) == _asked(german)
        assert not re.search(r"[{}]", "".join((*shown(english), *shown(german)))), english.name
        for ours, theirs in zip(shown(english), shown(german), strict=True):
            assert ours != theirs or not unsaid(ours), ours


def _asked(page: Page) -> tuple[Any, ...]:
    fields = [(one.id, one.number, one.first) for one in page.fields]
    choices = [(one.key, one.main, one.away, one.confirm is None) for one in page.choices]
    return page.name, page.big, page.cautions, fields, choices


def test_figures_look_the_same_in_german() -> None:
    """A figure is never written with a comma: it must look as on the gauge."""
    for english, german in zip(pages(ENGLISH), pages(GERMAN), strict=True):
        for ours, theirs in zip(shown(english), shown(german), strict=True):
            assert sorted(re.findall(r"\d+\.\d+", ours)) == sorted(re.findall(r"\d+\.\d+", theirs))


def test_what_is_typed_wrong_is_said_in_the_same_language() -> None:
    told = set()
    for page in pages(GERMAN):
        for typed in ({}, {field.id: "?" for field in page.fields}):
            for choice in page.choices:
                error = _refused(choice, typed)
                if error is not None:
                    told.add(error.said(ENGLISH))
                    assert error.said(ENGLISH) == str(error)
                    assert error.said(GERMAN) != str(error)
                    assert not unsaid(error.said(MARKED)), (page.name, str(error))
    assert {
        "the engine's serial number is needed",
        "hours: a number such as 0.12, not ?",
        "the radius is o for outer, i for inner, or z for its zero",
    } <= told


def _refused(choice: Choice, typed: Values) -> EntryError | None:
    try:
        choice.act(typed)
    except EntryError as error:
        return error
    return None


def test_a_label_fits_beside_its_field_in_the_terminal() -> None:
    width = int(re.findall(r"\.line Static \{ width: (\d+)", CSS)[0]) - 1  # and a gap
    long = {
        field.label
        for words in (ENGLISH, GERMAN)
        for unit in ("mm", "in")
        for page in pages(words, unit)
        for field in page.fields
        if len(field.label) > width
    }
    assert long == set()


class Bay:
    """A bay that says one thing."""

    def __init__(self, **said: Any) -> None:
        self.said = View("1/2", words=MARKED, **said)

    def view(self) -> View:
        return self.said


def walker(**said: Any) -> Walker:
    return Walker(
        cast(BayAtHand, Bay(**said)),
        signer="",
        keep=None,
        spawn=lambda _: None,
        on_leave=lambda: None,
        on_change=lambda: None,
    )


def test_what_is_wrong_with_the_bay_is_said_in_the_same_language() -> None:
    away = walker(live=Live(), away=OFFLINE).alarm
    assert not unsaid(away)
    assert "der Dienst des Messplatzes läuft nicht" in away
    for seconds in (2.0, 60.0):
        slow = walker(live=Live(), asking="1", asking_s=seconds).alarm
        assert not unsaid(slow)
        assert ("Broker" in slow) == (seconds == 60.0)
    assert walker(live=Live()).alarm == ""


def test_a_question_is_asked_in_the_same_language() -> None:
    timer = TimerPart(check="penetrant", item="1", elapsed_s=1)
    leaving = walker(live=Live(inspection=NAME, check="rim", timers=(timer,)), asking="1")
    leaving.show()
    leaving.leave()
    page = leaving.show()
    assert leaving.is_asked
    assert [text for text in shown(page) if unsaid(text)] == []
    assert "Rundlauf" in page.says[0]


def test_who_signs_reads_what_speaks_against_a_check() -> None:
    """A leak that was bad and then good, a sweep over the limit that others outvoted: beside the verdict."""
    visual = {
        "outcome": "good",
        "reason": "",
        "warnings": ["leak was bad in an earlier pass and is good now"],
    }
    closed = result(state="closed", verdict="keep", checks={"visual": visual})
    page = page_of(View("bay", live=Live(), result=closed), Place(), {}, "")
    assert page.name.startswith("sign ")
    assert "look on the engine: Note: leak was bad in an earlier pass and is good now" in page.rows


def test_a_keep_that_was_signed_as_replace_stands_in_no_keep_s_colour() -> None:
    """The sheet's first line and its mark are read from afar: they are of the worse of the two."""
    for verdict, decision in (("keep", "replace"), ("replace", "keep"), ("measure-again", "replace")):
        said = {"signed_by": "R. Example", "decision": decision, "remark": "dented"}
        signed = result(state="signed", verdict=verdict, **said)
        page = page_of(View("bay", live=Live(), result=signed), Place(inspection=NAME), {}, "")
        assert (page.name, page.tells) == ("over signed", "replace")
        assert "REPLACE" in page.says[0]
        assert any(line.startswith("Decided otherwise: ") for line in page.says)
        assert any(line.startswith("VERDICT: ") for line in page.says)


@pytest.mark.parametrize(
    ("typed", "hours", "length"),
    [
        ("11840", 11840.0, 11840.0),
        ("11 840", 11840.0, 11840.0),
        ("11,840", None, 11.84),  # hours read as 11.84 before; a micrometer with a comma shows 11,840 mm
        ("11.840", None, 11.84),
        ("1,234,567", None, None),
        ("0,840", 0.84, 0.84),
        ("-0,213", -0.213, -0.213),
        ("11840,5", 11840.5, 11840.5),
        ("11,84", 11.84, 11.84),
        ("1234,567", 1234.567, 1234.567),
    ],
)
def test_what_may_be_thousands_is_asked_of_a_counter_and_decimals_of_a_length(
    typed: str, hours: float | None, length: float | None
) -> None:
    for per_unit, wanted in ((None, hours), (Decimal(1), length)):
        if wanted is None:
            with pytest.raises(EntryError):
                number_of({"h": typed}, "h", Text("hours"), per_unit)
        else:
            assert number_of({"h": typed}, "h", Text("hours"), per_unit) == wanted
