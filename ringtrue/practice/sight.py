"""Looking: what an item shows as things stand, whether that tells anything, and what is true of it."""

from __future__ import annotations

from contract.terms import ObservedName
from ringtrue.practice import eyes
from ringtrue.practice.bay import PracticeBay
from ringtrue.practice.diary import Diary
from ringtrue.practice.workshop import ActError, Workshop

# Width of the name that a sight begins with.
NAME_WIDTH = 17
# What can be looked at beside the items of the checks.
TOOLS = ("dial", "base", "crank")
ON_ENGINE: ObservedName = "visual"


class Sight:
    """The trainee's eyes."""

    def __init__(self, workshop: Workshop, bay: PracticeBay, diary: Diary) -> None:
        self._workshop = workshop
        self._bay = bay
        self._diary = diary

    def items(self, check: str) -> list[str]:
        """Of a check by eye, in the method's order."""
        return [rule.id for name, rules in self._bay.method.observed.items() if name == check
                for rule in rules.item]  # fmt: skip

    def checks_of(self, item: str) -> list[ObservedName]:
        """The checks that have an item of this name."""
        return [check for check in self._bay.method.observed if item in self.items(check)]

    def find(self, words: list[str]) -> tuple[ObservedName, list[str]]:
        """The check and the items that words mean: `leak`, `penetrant rim`, `visual`, or nothing: all at
        hand."""
        shop = self._workshop
        check = next((name for name in self._bay.method.observed if words and words[0] == name), None)
        if check is not None:
            words = words[1:]
        if not words:
            return (check or shop.at_hand), self.items(check or shop.at_hand)
        (item, *more) = words
        found = [check] if check is not None else self.checks_of(item)
        if more or not found or item not in self.items(found[0]):
            here = check or shop.at_hand
            names = ", ".join(self.items(here))
            raise ActError(f"there is no item {' '.join(words)!r}; of {here} there are {names}")
        if shop.at_hand in found:
            return shop.at_hand, [item]
        if len(found) > 1:
            raise ActError(f"{item} is an item of {' and of '.join(found)}: put the check before it")
        return found[0], [item]

    def look(self, words: list[str]) -> list[str]:
        """What is to be seen there."""
        if words and words[0] in TOOLS:
            return [f"{words[0]:<{NAME_WIDTH}}{self._tool(words[0])}"]
        check, items = self.find(words)
        if (check == ON_ENGINE) is not self._workshop.is_on_engine:
            place, act = ("bench", "fit puts it back on the engine") if check == ON_ENGINE else (
                "engine", "off takes it to the bench")  # fmt: skip
            raise ActError(f"{check}: the damper is on the {place}: {act}")
        return [f"{item:<{NAME_WIDTH}}{self._sight(check, item)}" for item in items]

    def is_amiss(self, check: str, item: str) -> bool:
        """What is true of an item now, whoever looks or does not."""
        shop, bench = self._workshop, self._workshop.bench
        match check, item:
            case "visual", "oil":
                return shop.specimen.is_oily and not shop.is_wiped
            case "visual", "bolts":
                return shop.mounting.is_loose
            case "penetrant", "cleaned":
                return not bench.was_bare
            case (_, "temperature" | "penetrant-dwell" | "developer-dwell" | "soak"):
                return not bench.in_bounds(self._bay.method, check, item)
        return item in shop.specimen.bad.get(check, ())

    def figure(self, check: str, item: str) -> float | None:
        """What clock or thermometer says of an item that asks it."""
        return self._workshop.bench.figure(check, item)

    def _sight(self, check: str, item: str) -> str:
        shop, bench, method = self._workshop, self._workshop.bench, self._bay.method
        is_amiss, seen = self.is_amiss(check, item), True
        figure = self.figure(check, item)
        text = eyes.told(check, item, amiss=is_amiss)
        match check, item:
            case _, "temperature":
                text = f"The thermometer says {figure:.0f} °C."
            case _, "penetrant-dwell" | "developer-dwell" | "soak":
                seen = figure is not None
                text = "Not begun." if figure is None else f"{figure:.0f} min by the workshop's clock."
            case "penetrant", "cleaned":
                if bench.penetrant_at is not None:
                    bare = bench.was_bare
                else:
                    bare, seen = bench.is_bare, False
                text = "Bare, clean and dry." if bare else "Paint and dirt are on it still."
            case "visual", "leak" if shop.specimen.is_oily and not shop.is_wiped:
                text, seen = eyes.HIDDEN, False
            case "visual-bench", "mounting-face" if shop.mounting.dirt_mm > 0.0:
                text = eyes.DIRTY
            case "penetrant", _:
                seen = bench.developed_at is not None
                if not seen:
                    text = eyes.UNDEVELOPED
                elif not bench.shows_cracks(method):
                    text = eyes.told(check, item, amiss=False)
            case "warm-leak", _:
                seen = bench.warm_at is not None
                if not seen:
                    text = eyes.COLD
                elif not bench.shows_leaks(method):
                    text = eyes.told(check, item, amiss=False)
        if seen:
            self._diary.looked.add((check, item))
        if text == eyes.told(check, item, amiss=True):
            self._diary.shown.add((check, item))
        return text

    def _tool(self, name: str) -> str:
        shop = self._workshop
        if name == "crank":
            held = "held to one end of its float" if shop.is_held else "not held: it can move along its axis"
            return f"At {shop.crank_deg % 360.0:.1f}°, {held}."
        if shop.surface is None:
            return "The indicator is put aside."
        if name == "base":
            if shop.is_faulty_set and shop.specimen.slips_deg:
                return "The magnet sits on paint and a film of oil; a push of the thumb shifts it."
            return "The magnet sits on bare iron, and does not give."
        text = f"It shows {shop.felt_mm:+.3f} mm."
        if shop.is_plunger_off and shop.is_lifted:
            return f"{text} There is light between the tip and the {shop.surface}."
        return f"{text} The tip touches the {shop.surface} here."
