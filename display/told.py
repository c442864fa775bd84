"""Sentences that others wrote, the bay's daemon above all, in the language of a page: reasons, warnings,
refusals. They come whole and in English; told.json has them as patterns, with {names} for what changes.

A sentence is read piece by piece, as it is written: pieces are joined by "; ", and one may have a head, such
as the name of its check, before a colon. What a name stands for is said as it comes, but for names that begin

    told   another such sentence
    word   one if there is such, or a text of the pages' own catalogue; else as it comes
    list   several, between commas; list_and: between "and the"
    what   as somebody typed it, and all pieces behind it

Where one piece is not known the whole sentence stays English: half of each would be read as neither. A
pattern may have another English too, where the sentence names what only a command line has.

js/told.js does the same for what a page makes itself.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

from display.words import texts

NAME = re.compile(r"\{(\w+)\}")
HEAD = re.compile(r"(\S+): (.+)", re.DOTALL)
# How the parts of a list are joined, as they come and as they are said.
LISTS = {"list_and": (" and the ", {"en": " and the ", "de": " und "}), "list": (", ", {})}
# Sentences that are remembered: a page says the same ones many times a second.
REMEMBERED = 2048


@dataclass(frozen=True, slots=True)
class Piece:
    """pattern: of which it is, and what its names stand for; None where it is of none. head: what stood
    before its colon."""

    came: str
    pattern: str | None
    values: Mapping[str, str]
    head: str = ""


def told(sentence: str, language: str) -> str:
    """The sentence in this language; as it came where that is not known."""
    return _known(sentence, language) or sentence


def causes(sentence: str) -> Iterator[str]:
    """The patterns of which it is made, those of sentences within it after their own."""
    for piece in _pieces(sentence):
        if piece.pattern is not None:
            yield piece.pattern
            for name, value in piece.values.items():
                if name.startswith("told"):
                    yield from causes(value)


@cache
def patterns() -> Mapping[str, Mapping[str, str]]:
    """Each as it comes → how it is said, by language."""
    catalogue = json.loads(files("display").joinpath("told.json").read_text("utf-8"))
    return {text: dict(said) for text, said in catalogue.items()}


@lru_cache(REMEMBERED)
def _known(sentence: str, language: str) -> str | None:
    found, is_typed = [], False
    for piece in _pieces(sentence):
        is_left = piece.pattern is None and (is_typed or language == "en")
        said = piece.came if is_left else _said(piece, language)
        if said is None:
            return None
        is_typed = is_typed if piece.pattern is None else piece.pattern.endswith("{what}")
        found.append(said)
    return "; ".join(found)


def _said(piece: Piece, language: str) -> str | None:
    if piece.pattern is None:
        return None
    said = {name: _value(name, value, language) for name, value in piece.values.items()}
    if None in said.values():
        return None
    text = patterns()[piece.pattern].get(language, piece.pattern)
    head = f"{_known(piece.head, language) or piece.head}: " if piece.head else ""
    return head + NAME.sub(lambda name: str(said[name[1]]), text)


def _value(name: str, value: str, language: str) -> str | None:
    if name.startswith("told"):
        return _known(value, language)
    if name.startswith("word"):
        return _word(value, language)
    if name in LISTS:
        between, joined = LISTS[name]
        return joined.get(language, between).join(_word(one, language) for one in value.split(between))
    return value


def _word(text: str, language: str) -> str:
    return _known(text, language) or texts(language).get(text, text)


def _pieces(sentence: str) -> Iterator[Piece]:
    for came in _split(sentence):
        found, head = _match(came), HEAD.fullmatch(came)
        if found is not None:
            yield Piece(came, *found)
        elif head is not None and (rest := _match(head[2])) is not None:
            yield Piece(came, *rest, head=head[1])
        else:
            yield Piece(came, None, {})


def _split(sentence: str) -> Iterator[str]:
    """Between "; " that stand in no brackets."""
    depth = start = 0
    for at, letter in enumerate(sentence):
        depth += (letter == "(") - (letter == ")")
        if depth == 0 and sentence.startswith("; ", at):
            yield sentence[start:at]
            start = at + 2
    yield sentence[start:]


def _match(piece: str) -> tuple[str, Mapping[str, str]] | None:
    if piece in patterns():
        return piece, {}
    for pattern, shape in _shapes():
        if (found := shape.fullmatch(piece)) is not None:
            return pattern, found.groupdict()
    return None


@cache
def _shapes() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Those with names, the one with the most letters of its own first."""
    named = [text for text in patterns() if NAME.search(text)]
    named.sort(key=lambda text: (-len(NAME.sub("", text)), text))
    return tuple((text, re.compile(_shape(text), re.DOTALL)) for text in named)


def _shape(text: str) -> str:
    literal = NAME.split(text)  # texts and names in turn
    return "".join(f"(?P<{part}>.+?)" if n % 2 else re.escape(part) for n, part in enumerate(literal))
