"""Pages of a check by eye: one item at a time, its note, its figure, its dwell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from contract.live import AskedPart, TimerPart
from contract.result import ItemPart, ObservedCheck
from display.shown import rung_words
from display.walk.page import Act, Choice, Field, Page, Send, Turn, Values, go, needed, send, text_of
from display.walk.pages.opening import leave
from display.walk.place import Place
from display.walk.view import PictureKept, View
from display.walk.words import ITEMS, NAMES, SET_UP
from display.words import Text

UNITS = {"time_min": "min", "temperature_c": "°C"}


def current(place: Place, check: ObservedCheck) -> ItemPart | None:
    """The item that is to be looked at; None where all are, or are put off."""
    by_name = {item.item: item for item in check.items}
    if place.again:
        return by_name.get(place.again[0])
    return next((one for one in check.items if one.seen == "not seen" and one.item not in place.later), None)


def look(view: View, place: Place, name: str, check: ObservedCheck, typed: Values) -> Page:
    """The item at hand, or what is left to do of the check."""
    item = current(place, check)
    if item is None:
        return _put_off(view, place, name, check)
    asked = view.asked(name, item.item)
    if place.stage == "note":
        return _note(view, place, name, item)
    if place.stage == "photo" and view.keep is not None:
        return _photo(view, view.keep, place, name, item)
    number = [one.item for one in check.items].index(item.item) + 1
    say = view.words.say
    heading = say("{check}: {n} of {all}", check=say(NAMES[name]), n=number, all=len(check.items))
    says = [say(step) for step in SET_UP[name]] if number == 1 else []
    if (name, item.item) in ITEMS:
        says.append(say(ITEMS[name, item.item]))
    page = Page(f"look {name} {item.item}", heading, says=tuple(says), picture=(name, item.item))
    if asked is None:
        return _plain(page, view, place, name, item, typed)
    if asked.figure == "temperature_c" or place.stage == "minutes":
        return _figure(page, view, place, name, item, asked)
    return _dwell(page, view, place, name, item, asked)


def _plain(page: Page, view: View, place: Place, name: str, item: ItemPart, typed: Values) -> Page:
    note = typed.get(_note_id(name, item.item), "")
    words, say = view.words, view.words.say
    told = [say("so far: {seen}", seen=say(item.seen))] if item.seen != "not seen" else []
    told += [words.count(len(item.photos), "picture")] if item.photos else []
    told += [say("note: {note}", note=note or item.note)] if note or item.note else []
    return replace(
        page,
        says=(*page.says, f"{item.text or item.item}?"),
        rows=tuple(told),
        choices=(
            Choice("g", say("good: it is so"), _seen(name, item, "good"), tells="good"),
            Choice("b", say("bad: it is not"), _bad(place, name, item), tells="bad"),
            Choice("n", say("not seen: put off"), _seen(name, item, "not seen"), tells="missing"),
            Choice("w", say("write a note first"), go(replace(place, stage="note", seen=""))),
            *([Choice("p", say("a picture of it"), go(replace(place, stage="photo")))] if view.keep else []),
            *_also(view, place),
        ),
    )


def _also(view: View, place: Place) -> tuple[Choice, ...]:
    listed = view.words.say("list of all checks")
    return (Choice("l", listed, go(replace(place, stage="list")), away=True), leave(view))


def _seen(name: str, item: ItemPart, seen: str, **figures: Any) -> Any:
    """Record an item as seen, with the note that was written."""

    def act(values: Values) -> Act:
        note = values.get(_note_id(name, item.item), "")
        said = {"item": item.item, "seen": seen, **({"note": note} if note else {}), **figures}
        return Send(
            "record",
            {"check": name, "items": [said]},
            then=lambda now, _: _recorded(now, item.item, seen),
            forget=(_note_id(name, item.item), _figure_id(name, item.item)),
            settles=True,
        )

    return act


def _recorded(place: Place, item: str, seen: str) -> Place:
    later = tuple(one for one in place.later if one != item) + ((item,) if seen == "not seen" else ())
    again = tuple(one for one in place.again if one != item)
    return replace(place, stage="", seen="", later=later, again=again)


def _bad(place: Place, name: str, item: ItemPart) -> Any:
    """What is bad says why; a note that is written already serves."""

    def act(values: Values) -> Act:
        if values.get(_note_id(name, item.item)):
            # The closure of a page has no narrower type.
            return _seen(name, item, "bad")(values)  # type: ignore[no-any-return]
        return Turn(replace(place, stage="note", seen="bad"))

    return act


def _note(view: View, place: Place, name: str, item: ItemPart) -> Page:
    say = view.words.say
    bad = place.seen == "bad"
    asks = say("BAD: what, and where? May be left empty.") if bad else say("To be noted?")
    back = replace(place, stage="", seen="")
    act = _seen(name, item, "bad") if bad else go(back)
    return Page(
        f"note {name} {item.item} {place.seen}",
        f"{say(NAMES[name])}: {say('bad') if bad else say('a note')}",
        says=(say("Not so: {text}", text=item.text) if bad and item.text else item.text or item.item, asks),
        fields=(Field(_note_id(name, item.item), say("note")),),
        choices=(
            Choice("enter", say("record it as bad") if bad else say("keep the note"), act, main=True),
            Choice("esc", say("back"), go(back)),
        ),
    )


def _photo(view: View, keep: Callable[[Path], PictureKept], place: Place, name: str, item: ItemPart) -> Page:
    """A picture that lies on this machine, kept beside the record."""
    say, file = view.words.say, f"photo.{name}.{item.item}"
    back = replace(place, stage="")

    def act(values: Values) -> Act:
        kept = keep(Path(text_of(values, file, Text("the picture's file"))).expanduser())
        said = {
            "check": name,
            "item": item.item,
            "file": kept.name,
            "note": values.get(_note_id(name, item.item), ""),
        }
        return Send(
            "photo", said, forget=(file,), then=lambda now, _: replace(now, stage=""), settles=True,
            refused=kept.drop,
        )  # fmt: skip

    return Page(
        f"photo {name} {item.item}",
        f"{say(NAMES[name])}: {say('a picture')}",
        says=(item.text or item.item, say("Where does the picture lie? JPEG, PNG or WebP.")),
        fields=(Field(file, say("file")),),
        choices=(Choice("enter", say("keep it"), act, main=True), Choice("esc", say("back"), go(back))),
    )


def _figure(page: Page, view: View, place: Place, name: str, item: ItemPart, asked: AskedPart) -> Page:
    """Minutes or degrees, typed: out of bounds it does not count, whatever is said of it."""
    say = view.words.say
    what = {"time_min": Text("minutes"), "temperature_c": Text("°C")}[asked.figure]

    def act(values: Values) -> Act:
        figure = needed(values, _figure_id(name, item.item), what)
        # The closure of a page has no narrower type.
        return _seen(name, item, "good", **{asked.figure: figure})(values)  # type: ignore[no-any-return]

    return replace(
        page,
        name=f"{page.name} {place.stage}",
        says=(*page.says, f"{item.text or item.item}."),
        rows=(_bounds(view, asked),),
        fields=(Field(_figure_id(name, item.item), say(what), number=True),),
        choices=(
            Choice("enter", say("record it"), act, main=True),
            Choice("n", say("not done yet: put off"), _seen(name, item, "not seen")),
            *([Choice("esc", say("back"), go(replace(place, stage="")))] if place.stage else []),
            *_also(view, place),
        ),
    )


def _dwell(page: Page, view: View, place: Place, name: str, item: ItemPart, asked: AskedPart) -> Page:
    """A dwell that the bay times: begin, wait, end, record."""
    timer, say = view.timer(name, item.item), view.words.say
    which = {"check": name, "item": item.item}
    if timer is None:
        return replace(
            page,
            name=f"{page.name} begin",
            says=(*page.says, f"{item.text or item.item}.", say("When it is on, let the time begin.")),
            rows=(_bounds(view, asked),),
            choices=(
                Choice("t", say("the time begins now"), send("time", arguments=which)),
                Choice("m", say("type the minutes instead"), go(replace(place, stage="minutes"))),
                Choice("n", say("not done yet: put off"), _seen(name, item, "not seen")),
                *_also(view, place),
            ),
        )
    minutes, seconds = divmod(timer.elapsed_s, 60)
    page = replace(page, big=f"{minutes}:{seconds:02d}", says=(f"{item.text or item.item}.",))
    if timer.ended:
        return replace(
            page,
            name=f"{page.name} ended",
            rows=(say("ended; not recorded yet"), _bounds(view, asked)),
            choices=(
                Choice(
                    "g", say("record it: {min} min {s} s", min=minutes, s=seconds), _seen(name, item, "good")
                ),
                Choice("t", say("time it anew"), send("time", arguments=which)),
                *_also(view, place),
            ),
        )
    stop = send("time", arguments={**which, "stop": True})
    rung = rung_words(timer, view.words)
    early = asked.least is not None and timer.elapsed_s < asked.least * 60
    too_soon = say(
        "It has not lasted {least} min: ended now, the check will not count. End it?",
        least=f"{asked.least or 0:g}",
    )
    return replace(
        page,
        name=f"{page.name} runs",
        rows=(_left(view, timer), _bounds(view, asked)),
        rings=None if rung is None else f"{timer.item}: {rung}",
        choices=(
            Choice("e", say("it ends now"), stop, confirm=too_soon if early else None),
            *_also(view, place),
        ),
    )


def _left(view: View, timer: TimerPart) -> str:
    told = rung_words(timer, view.words)
    if told is not None:
        return told
    if timer.least_min is None:
        return view.words.say("runs")
    minutes, seconds = divmod(max(0, int(timer.least_min * 60) - timer.elapsed_s), 60)
    return view.words.say("wait {time} more", time=f"{minutes}:{seconds:02d}")


def _bounds(view: View, asked: AskedPart) -> str:
    unit, say = UNITS[asked.figure], view.words.say
    parts = []
    if asked.least is not None:
        parts.append(say("at least {least}", least=f"{asked.least:g} {unit}"))
    if asked.most is not None:
        parts.append(say("at most {most}", most=f"{asked.most:g} {unit}"))
    return ", ".join(parts) or say("in {unit}", unit=unit)


def _put_off(view: View, place: Place, name: str, check: ObservedCheck) -> Page:
    say = view.words.say
    left = [one for one in check.items if one.seen == "not seen"]
    now = replace(place, later=(), stage="")
    return Page(
        f"put off {name}",
        say(NAMES[name]),
        says=(say("Not seen yet; without it the inspection stays incomplete:"),),
        rows=tuple(f"{one.text or one.item}" for one in left),
        choices=(Choice("r", say("look at it now"), go(now)), *_also(view, place)),
    )


def _note_id(name: str, item: str) -> str:
    return f"note.{name}.{item}"


def _figure_id(name: str, item: str) -> str:
    return f"figure.{name}.{item}"


def all_again(place: Place, check: ObservedCheck) -> Place:
    """Every item, once more."""
    return replace(place, stage="", again=tuple(one.item for one in check.items), later=())
