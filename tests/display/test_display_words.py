"""The catalogue: it holds what displays say, all of it and nothing else, each with its German."""

from __future__ import annotations

import ast
import json
import re
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contract.terms import Construction, Family, MicrometerAt
from display.words import ENGLISH, LANGUAGES, LanguageError, Words, texts
from tests.display.texts import (
    PAGES,
    ROOT,
    all_texts,
    calls,
    in_python,
    names_of,
    said_in_html,
    said_in_javascript,
    text_in,
)

FILE = ROOT / "display/words.json"
GERMAN = Words("de")
ALIKE = {"in {unit}", "kW", "km", "°C"}
"""What is the same in both languages."""


def test_every_text_that_is_said_is_in_the_catalogue_and_nothing_else() -> None:
    kept = set(json.loads(FILE.read_text()))
    assert {"missing": sorted(all_texts() - kept), "dead": sorted(kept - all_texts())} == {
        "missing": [],
        "dead": [],
    }


def test_every_text_has_its_german_with_the_same_names() -> None:
    catalogue = json.loads(FILE.read_text())
    assert {text for text, others in catalogue.items() if set(others) != set(LANGUAGES) - {"en"}} == set()
    german = texts("de")
    assert {text for text in catalogue if names_of(german[text]) != names_of(text)} == set()
    assert {text for text in catalogue if german[text] == text} == ALIKE & set(catalogue)
    # A text that begins or ends with a blank is put beside another: so is its German.
    assert {text for text in catalogue if _blanks(text) != _blanks(german[text])} == set()


def _blanks(text: str) -> tuple[bool, bool]:
    return text[:1].isspace(), text[-1:].isspace()


def test_the_file_is_in_order_one_text_a_line() -> None:
    lines = FILE.read_text().splitlines()
    catalogue = json.loads(FILE.read_text())
    assert list(catalogue) == sorted(catalogue)
    assert [lines[0], lines[-1], len(lines)] == ["{", "}", len(catalogue) + 2]
    for line, (text, others) in zip(lines[1:-1], catalogue.items(), strict=True):
        said = f"{json.dumps(text, ensure_ascii=False)}: {json.dumps(others, ensure_ascii=False)}"
        assert line.removesuffix(",") == said


def test_what_is_said_is_written_out_where_it_is_said_with_all_its_values() -> None:
    """What a text is put together from could not be looked up; a value too few would be shown as its name."""
    put_together = [place for place, call in calls() if _is_put_together(call)]
    assert put_together == []
    wrong = [
        f"{place}: {text}"
        for place, call in calls()
        if getattr(call.func, "attr", getattr(call.func, "id", "")) == "say"
        for text in text_in(call)
        if names_of(text) != {keyword.arg for keyword in call.keywords}
    ]
    assert wrong == []


def _is_put_together(call: ast.Call) -> bool:
    text = call.args[-1]
    ways = [text.body, text.orelse] if isinstance(text, ast.IfExp) else []
    return isinstance(text, ast.JoinedStr | ast.BinOp) or any(isinstance(way, ast.Constant) for way in ways)


def test_no_page_says_a_text_that_cannot_be_found() -> None:
    hidden = [
        str(path.relative_to(ROOT))
        for path in (PAGES / "js").rglob("*.js")
        if re.search(r"""(?<![\w.$])t\(\s*(?:`|["'][^"']*["']\s*\+)""", path.read_text())
    ]
    assert hidden == []


def test_texts_are_found_wherever_they_are_written() -> None:
    js = """t("Bar {deg}° more.", {deg: 12}); x = t( 'it\\'s on' ); set("no"); at("no"); o.t("no"); t(name)"""
    assert said_in_javascript(js) == {"Bar {deg}° more.", "it's on"}
    html = '<h1 data-t>\n All bays</h1><p>no</p><button class="b" data-t="leave">go on</button>'
    assert said_in_html(html) == {"All bays", "leave"}
    assert {"{n} reading", "{n} readings", "rim run-out", "ABOVE THE LIMIT"} <= in_python()


@given(text=st.sampled_from(sorted(texts("de"))), values=st.data())
def test_a_text_in_german_holds_every_value_that_the_english_holds(text: str, values: st.DataObject) -> None:
    any_value = st.text(max_size=12) | st.integers() | st.floats()
    said = {name: values.draw(any_value, name) for name in sorted(names_of(text))}
    for words in (ENGLISH, GERMAN):
        assert all(str(value) in words.say(text, **said) for value in said.values())


@given(number=st.integers(), what=st.sampled_from(["reading", "picture", "attempt"]))
def test_a_count_has_its_number_and_the_form_that_goes_with_it(number: int, what: str) -> None:
    assert ENGLISH.count(number, what) == f"{number} {what}" + ("" if number == 1 else "s")
    assert GERMAN.count(number, what).startswith(f"{number} ")
    assert (GERMAN.count(number, what) == GERMAN.count(1, what)) == (number == 1)


def test_what_is_in_no_catalogue_is_said_as_it_comes() -> None:
    assert GERMAN.say("rim: {over} the limit") == "rim: {over} the limit"
    assert GERMAN.say("Only {here}.", here=1) == "Only 1."
    assert GERMAN.say("leave") == "verlassen"
    assert ENGLISH.say("leave") == "leave"


def test_a_language_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(LanguageError, match="no language 'fr' here: there are en and de"):
        Words("fr")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("rolled", "rolled"), ("Welded", "welded"), ("gebördelt", "rolled"), ("geboerdelt", "rolled"),
        ("GESCHWEISST", "welded"), ("geschweißt", "welded"), ("Visko", "viscous"), ("gummi", "rubber"),
        ("rubber", "rubber"), ("glued", "glued"), ("", ""),
    ],
)  # fmt: skip
def test_an_answer_in_words_is_understood_in_both_languages(typed: str, meant: str) -> None:
    assert GERMAN.meant(typed, [*get_args(Construction), *get_args(Family)]) == meant


@pytest.mark.parametrize(
    ("typed", "radius"),
    [
        ("o", "outer"), ("I", "inner"), ("z", "zero"), ("outer", "outer"), ("a", "outer"), ("außen", "outer"),
        ("aussen", "outer"), ("innen", "inner"), ("N", "zero"), ("null", "zero"), ("x", None), ("", None),
    ],
)  # fmt: skip
def test_a_letter_is_enough_for_a_radius(typed: str, radius: str | None) -> None:
    assert GERMAN.begun(typed, get_args(MicrometerAt)) == radius


def test_english_asks_for_no_german_letter() -> None:
    assert ENGLISH.begun("a", get_args(MicrometerAt)) is None
    assert ENGLISH.meant("Gummi", get_args(Family)) == "Gummi"


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_answer_can_be_taken_for_another(language: str) -> None:
    """A word, or a radius' first letter, that meant one thing in English and another here would be recorded
    as what nobody said."""
    words = Words(language)
    for kind in (Construction, Family, MicrometerAt):
        first = 1 if kind is MicrometerAt else None
        ways = [{said.casefold()[:first] for said in (one, words.say(one))} for one in get_args(kind)]
        assert sum(map(len, ways)) == len(set.union(*ways))
