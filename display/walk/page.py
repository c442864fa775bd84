"""What one page of the walk says and asks: plain data, whatever shows it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any

from contract.units import THOUSANDS
from display.walk.place import Place
from display.words import Text, Words

Values = Mapping[str, str]
"""What was typed, by the id of its field, blanks at either end taken off."""


NEEDED, NO_NUMBER = Text("{what} is needed"), Text("{what}: a number such as 0.12, not {typed}")
MAY_BE_THOUSANDS = Text(
    "{what}: {typed} may be thousands or decimals: type thousands without a mark, decimals with fewer digits"
)


class EntryError(ValueError):
    """What was typed is not what its field is for; says what is. field: its id. what: the {what} of its
    text."""

    def __init__(self, entry: str, expected: Text, what: Text | None = None, typed: str = "") -> None:
        super().__init__(expected.format(what=what, typed=typed))
        self.field = entry
        self._expected, self._what, self._typed = expected, what or "", typed

    def said(self, words: Words) -> str:
        """Its text in a language."""
        return words.say(self._expected, what=words.say(self._what), typed=self._typed)


@dataclass(frozen=True, slots=True)
class Turn:
    """Another page: the place afterwards."""

    place: Place


@dataclass(frozen=True, slots=True)
class Send:
    """A command. then: the place once it is done. forget: fields whose text has served then. settles: what it
    changes is in the result, and is waited for. asks: the code of a refusal that is a question, to be
    answered by sending it again with sure; question: in the walk's own words. refused: what is undone where
    it is refused."""

    name: str
    arguments: Mapping[str, Any] = field(default_factory=dict)
    then: Callable[[Place, Mapping[str, Any]], Place] | None = None
    forget: tuple[str, ...] = ()
    settles: bool = False
    asks: str | None = None
    question: str = ""
    refused: Callable[[], None] = lambda: None


@dataclass(frozen=True, slots=True)
class Leave:
    """The end of the walk; what runs at the bay goes on. sure: also where something does."""

    sure: bool = False


Act = Turn | Send | Leave


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to do. key: the single key, or `enter`, `esc`. act: what it comes to with what was typed; may
    raise EntryError. main: what Enter does. away: also while the bay is away or has a command to answer.
    confirm: a question to be answered first. tells: the outcome that it stands for, where it does."""

    key: str
    label: str
    act: Callable[[Values], Act]
    main: bool = False
    away: bool = False
    confirm: str | None = None
    tells: str = ""


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to type. id: where what was typed is kept, also while other pages are shown. number: digits
    only, so that letters are choices. options: the only words that it takes, where it does not take any."""

    id: str
    label: str
    hint: str = ""
    number: bool = False
    first: str = ""
    options: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Page:
    """name: pages of one name are one page whose figures change. cautions: in full, before all else. says:
    paragraphs. big: one figure, seen from afar. rows: figures, a line each. rings: once, where it is another
    than the page before had. picture: the check and the item that a picture may be added to. tells: the
    outcome or verdict that the first of `says` is about, where it is about one."""

    name: str
    title: str
    cautions: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    big: str | None = None
    rows: tuple[str, ...] = ()
    fields: tuple[Field, ...] = ()
    choices: tuple[Choice, ...] = ()
    rings: str | None = None
    picture: tuple[str, str] | None = None
    tells: str = ""

    @property
    def shape(self) -> tuple[object, ...]:
        """What is built anew where it differs; all else is only written anew."""
        return (
            self.name,
            tuple((one.id, one.label, one.hint) for one in self.fields),
            tuple((one.key, one.main) for one in self.choices),
        )

    def chosen(self, key: str) -> Choice | None:
        """The choice with this key."""
        return next((choice for choice in self.choices if choice.key == key), None)

    @property
    def main(self) -> Choice | None:
        """What Enter does; None where it must be said which."""
        return next((choice for choice in self.choices if choice.main), None)


def go(place: Place) -> Callable[[Values], Act]:
    """A choice that only turns the page."""
    return lambda _: Turn(place)


def send(name: str, **more: Any) -> Callable[[Values], Act]:
    """A choice that needs nothing typed."""
    return lambda _: Send(name, **more)


def text_of(values: Values, entry: str, what: Text) -> str:
    """A text that must be there. Raises EntryError."""
    text = values.get(entry, "")
    if not text:
        raise EntryError(entry, NEEDED, what)
    return text


NUMBER_MAX = 1e12
"""No counter shows more; what a scanner types into a field of numbers may have any length."""


def number_of(values: Values, entry: str, what: Text, per_unit: Decimal | None = None) -> float | None:
    """A number, point or comma; of a length, of which none has thousands, times per_unit. None where nothing
    is typed. Raises EntryError, also where what is no length may be thousands: 11,840 hours."""
    if per_unit is None and THOUSANDS.fullmatch(values.get(entry, "").replace(" ", "")):
        raise EntryError(entry, MAY_BE_THOUSANDS, what, values[entry])
    text = values.get(entry, "").replace(",", ".").replace(" ", "")
    if not text:
        return None
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise EntryError(entry, NO_NUMBER, what, values[entry]) from None
    if not value.is_finite() or abs(value) > NUMBER_MAX:
        raise EntryError(entry, NO_NUMBER, what, values[entry])
    return float(value if per_unit is None else value * per_unit)


def needed(values: Values, entry: str, what: Text, per_unit: Decimal | None = None) -> float:
    """The same where it must be there. Raises EntryError."""
    value = number_of(values, entry, what, per_unit)
    if value is None:
        raise EntryError(entry, NEEDED, what)
    return value
