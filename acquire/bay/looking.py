"""Checks by eye, as the commands `record`, `time` and `photo` bring them: items, their dwells, pictures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from acquire.bay.asked import Answer
from acquire.bay.dwells import ACROSS, Dwell, rule_of
from acquire.bay.inspection import InspectionState
from acquire.errors import CommandRefusedError
from acquire.journal.events import Observation, PhotoTaken, TimeBegun, TimeEnded
from config.method import ItemRule, Method
from contract import commands
from contract.item import Item
from contract.item import Photo as Picture
from contract.terms import ObservedName

# What an item's figure is, and how it might look.
_FIGURES = {
    "time_min": ("its time in minutes", 20), "temperature_c": ("its temperature in degrees Celsius", 21),
}  # fmt: skip
PHOTOS_MAX = 40
"""Pictures of one inspection: the result document names each."""


class Looking:
    """The meaning of what is looked at; keeps nothing between two commands.

    in_force: the method of the inspection that is open. photos: the bay's folder of them.
    """

    def __init__(self, in_force: Callable[[], Method], photos: Path) -> None:
        self._in_force = in_force
        self._photos = photos

    def record(
        self,
        check: ObservedName,
        items: Sequence[commands.SeenItem],
        common: dict[str, Any],
        state: InspectionState,
    ) -> Answer:
        """Items as seen; a dwell that was timed gives its own minutes where none are told."""
        rules = self._rules(check, [one.item for one in items], "record")
        plain = tuple(
            _timed(one.plain(), state.dwells.get((check, one.item)), state, common["time_ns"])
            for one in items
        )
        for one in plain:
            _refuse_figures(one, rules[one.item])
        answer: dict[str, Any] = {"check": check, "items": len(items)}
        timed = {
            one.item: one.time_min
            for one, said in zip(plain, items, strict=True)
            if said.time_min is None and one.time_min is not None
        }
        answer |= {"time_min": timed} if timed else {}
        return [Observation(**common, check=check, items=plain)], answer

    def time(self, command: commands.Time, common: dict[str, Any], state: InspectionState) -> Answer:
        """A dwell begins or ends. One that runs is never begun anew by a second press."""
        check, item = command.check, command.item
        rule = self._rules(check, [item], "time")[item]
        if rule.figure != "time_min":
            asked = [one.id for one in self._in_force().observed[check].item if one.figure == "time_min"]
            text = f"time: {item} asks no time; in {check} {', '.join(asked) or 'no item'} does"
            raise CommandRefusedError("malformed", text)
        dwell = state.dwells.get((check, item))
        now = state.moment(common["time_ns"])
        answer: dict[str, Any] = {"check": check, "item": item}
        if command.stop:
            if dwell is None or dwell.ended is not None:
                text = f"time: {item} is not being timed; begin it without stop"
                raise CommandRefusedError("out-of-order", text)
            answer["time_min"] = dwell.elapsed_min(now)
            return [TimeEnded(**common, check=check, item=item)], answer
        if dwell is not None and dwell.ended is None:
            text = (
                f"time: {item} runs already, for {dwell.elapsed_min(now):g} min; it goes on "
                "(to begin anew, end it with stop=true first)"
            )
            raise CommandRefusedError("out-of-order", text)
        answer |= {"least_min": rule.least, "most_min": rule.most}
        return [TimeBegun(**common, check=check, item=item)], answer

    def photo(self, command: commands.Photo, common: dict[str, Any], state: InspectionState) -> Answer:
        """A picture that lies in the folder already becomes one of the item."""
        self._rules(command.check, [command.item], "photo")
        if not (self._photos / command.file).is_file():
            text = f"photo: {command.file} is not in the bay's folder; put it there with ringtrue photo"
            raise CommandRefusedError("no-such-photo", text)
        if len(state.photos) >= PHOTOS_MAX:
            text = f"photo: {state.id} has {PHOTOS_MAX} photos, as many as a result can name"
            raise CommandRefusedError("out-of-order", text)
        picture = Picture(command.item, command.file, command.note)
        answer = {"check": command.check, "item": command.item, "photos": len(state.photos) + 1}
        return [PhotoTaken(**common, check=command.check, photo=picture)], answer

    def _rules(self, check: ObservedName, items: Sequence[str], command: str) -> dict[str, ItemRule]:
        """The method's rule for each item. Raises CommandRefusedError where one is not in it."""
        method = self._in_force()
        if check not in method.observed:
            text = f"{command}: the method has no items for {check}; it has {', '.join(method.observed)}"
            raise CommandRefusedError("malformed", text)
        found = {item: rule_of(method, check, item) for item in items}
        wrong = [repr(item[:40]) for item, rule in found.items() if rule is None]
        if wrong:
            known = ", ".join(rule.id for rule in method.observed[check].item)
            text = f"{command}: {', '.join(wrong[:3])}: no item of {check}; these are: {known}"
            raise CommandRefusedError("malformed", text)
        return {item: rule for item, rule in found.items() if rule is not None}


def _timed(item: Item, dwell: Dwell | None, state: InspectionState, time_ns: int) -> Item:
    """The item with its dwell's time, where one was timed; what is told counts, with the other one noted."""
    if dwell is None or item.seen == "not seen":
        return item
    timed_min = dwell.elapsed_min(state.moment(time_ns))
    told = item.time_min is not None
    said = f"the bay timed {timed_min:g} min" if told and abs((item.time_min or 0) - timed_min) >= 1 else ""
    note = "; ".join(filter(None, (item.note, said, ACROSS if dwell.across else "")))
    return replace(item, time_min=item.time_min if told else timed_min, note=note)


def _refuse_figures(one: Item, rule: ItemRule) -> None:
    """An item that was seen comes with the figure that the method asks for, and with no other."""
    for figure, (what, example) in _FIGURES.items():
        given = getattr(one, figure) is not None
        if given and rule.figure != figure:
            text = f"record: {one.item} takes no {figure}: leave it out"
            raise CommandRefusedError("malformed", text)
        if not given and rule.figure == figure and one.seen != "not seen":
            text = f'record: {one.item} needs {what}: add "{figure}": {example} to that item'
            if figure == "time_min":
                text += ", or time it with the command time"
            raise CommandRefusedError("malformed", text)
