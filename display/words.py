"""What displays say to people, in the language that they ask for: one catalogue for all of them, words.json.

An English text is its own key there, with {names} for what changes; beside it stands its German. What is not
in it is said as it comes: the bay's own sentences (cautions, reasons, warnings), the items of the method.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import NewType

from config.errors import RingtrueError

LANGUAGES = ("en", "de")
"""By their codes (ISO 639-1). English is what the keys are in."""

Text = NewType("Text", str)
"""An English text of the catalogue that is said later, or somewhere else than where it is written."""

# As it is written where a keyboard has no other letters.
_PLAIN = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})


class LanguageError(RingtrueError):
    """A language that the catalogue does not have; names those that it has."""

    def __init__(self, language: str) -> None:
        super().__init__(f"no language {language!r} here: there are {' and '.join(LANGUAGES)}")


@cache
def texts(language: str) -> Mapping[str, str]:
    """English text → the same in this language; none where it is English. Raises LanguageError."""
    if language not in LANGUAGES:
        raise LanguageError(language)
    if language == "en":
        return {}
    catalogue = json.loads(files("display").joinpath("words.json").read_text("utf-8"))
    return {text: others[language] for text, others in catalogue.items()}


@dataclass(frozen=True, slots=True)
class Words:
    """One language. Figures are written alike in all of them, with a decimal point: one must look the same
    on gauge, page and report, or it is read twice. Raises LanguageError."""

    language: str = "en"

    def __post_init__(self) -> None:
        texts(self.language)

    def say(self, text: str, /, **values: object) -> str:
        """A text with its values; in English where there is no other."""
        said = texts(self.language).get(text, text)
        return said.format(**values) if values else said  # what comes from elsewhere may hold a brace

    def count(self, number: int, what: str, /) -> str:
        """`1 reading`, `4 readings`: the catalogue has `{n} reading` and `{n} readings`."""
        return self.say(f"{{n}} {what}" if number == 1 else f"{{n}} {what}s", n=number)

    def meant(self, typed: str, words: Iterable[str]) -> str:
        """Which of these English words was typed, in English or in this language; else what was typed."""
        return next((word for word in words if _plain(typed) in (word, _plain(self.say(word)))), typed)

    def begun(self, typed: str, words: Iterable[str]) -> str | None:
        """The same of which a beginning was typed, one letter at the least; None where it is none."""
        start = _plain(typed)
        found = (
            one
            for one in words
            if start and (one.startswith(start) or _plain(self.say(one)).startswith(start))
        )
        return next(found, None)


def _plain(text: str) -> str:
    """Without regard to capitals and to how umlauts are written."""
    return text.casefold().translate(_PLAIN)


ENGLISH = Words()
