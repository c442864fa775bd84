"""What can be typed at practice, and what each of it does."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import get_args

from contract.lengths import UNITS
from contract.result import SurfaceCheck, ThicknessCheck
from contract.terms import Surface
from display.shown import result_lines
from link.errors import NothingHeardError, RefusedError
from ringtrue.demo_report import swept_text
from ringtrue.practice import hints
from ringtrue.practice.bay import PracticeBay
from ringtrue.practice.diary import Diary
from ringtrue.practice.shorthand import Shorthand, is_command
from ringtrue.practice.sight import Sight
from ringtrue.practice.thickness import PLACES_MOST, Micrometer
from ringtrue.practice.workshop import TURN_DEG, ActError, Workshop

HELP = """\
on the engine   lockout
                set rim|face: the indicator; once more: set anew
                hold, release: the crank in its end float
                bar [DEGREES], bar to ANGLE, bar back DEGREES
                tighten: the bolts; clean: the mounting; wipe
                off: to the bench; fit: back on the engine
on the bench    wipe; micrometer [PLACES|all]
                penetrant, rinse, developer; warm DEGREES; wait MINUTES
with the eyes   look [CHECK] [ITEM]; look dial|base|crank; where
with the bay    open [on-engine|bench]; zero; begin rim|face|thickness; end; cancel
                record [CHECK] ITEM good|bad [FIGURE] [NOTE]
                record CHECK [rest] good; result; close; abandon
                sign NAME [sure] [decision=keep|replace remark="why"]
at the end      finish: hold it against the truth; quit
"""
HINT = "in doubt        hint: the next step; hint fault\n"
# The workshop's acts that are one word.
_ONE_WORD = {
    "lockout": Workshop.lock_out, "hold": Workshop.hold, "release": Workshop.release,
    "clean": Workshop.clean, "tighten": Workshop.tighten, "wipe": Workshop.wipe,
    "off": Workshop.take_off, "fit": Workshop.fit, "penetrant": Workshop.penetrant,
    "rinse": Workshop.rinse, "developer": Workshop.developer, "where": Workshop.where,
}  # fmt: skip


@dataclass(slots=True)
class Acts:
    """One practice's acts. is_exam: no hints. is_over: the trainee is done; is_quit: and wants no truth."""

    shop: Workshop
    sight: Sight
    micrometer: Micrometer
    shorthand: Shorthand
    bay: PracticeBay
    diary: Diary
    is_exam: bool = False
    is_over: bool = False
    is_quit: bool = False
    _table: dict[str, Callable[[list[str]], Awaitable[list[str]]]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._table = {
            "set": self._set, "bar": self._bar, "wait": self._wait, "warm": self._warm,
            "micrometer": self._measure, "look": self._look, "result": self._result,
            "help": self._help, "hint": self._hint, "finish": self._finish, "quit": self._quit,
        }  # fmt: skip

    async def do(self, line: str) -> list[str]:
        """One line; what is to be said of it. Wrong input is one line that says what to do."""
        name, _, rest = line.strip().partition(" ")
        self.diary.acts.append(line.strip())
        try:
            return await self._do(name, rest)
        except ActError as error:
            return [str(error)]
        except (RefusedError, NothingHeardError) as error:
            return [str(error).removeprefix(f"the daemon refused `{name}`: ")]

    async def _do(self, name: str, rest: str) -> list[str]:
        words = rest.split()
        if name in _ONE_WORD:
            if words:
                raise ActError(f"{name} takes no more words")
            return _ONE_WORD[name](self.shop)
        if name in self._table:
            return await self._table[name](words)
        if is_command(name):
            said = await self.shorthand.send(name, rest)
            self.is_over = name == "sign"
            return said
        raise ActError(f"there is no act {name!r}: help lists them")

    async def _set(self, words: list[str]) -> list[str]:
        match words:
            case ["rim" | "face" as surface]:
                return self.shop.set_on(surface)
        raise ActError(f"set: {' or '.join(get_args(Surface))}")

    async def _bar(self, words: list[str]) -> list[str]:
        match words:
            case []:
                turn_deg = TURN_DEG
            case ["to", angle]:
                turn_deg = (_number("bar to", angle) - self.shop.crank_deg) % 360.0 or 360.0
            case ["back", degrees]:
                turn_deg = -_number("bar back", degrees)
            case [degrees]:
                turn_deg = _number("bar", degrees)
            case _:
                raise ActError("bar: nothing for a turn, DEGREES, to ANGLE or back DEGREES")
        before = self.bay.live
        said = await self.shop.bar(turn_deg)
        check = before.check if before is not None else None
        return said if check not in get_args(Surface) else [*said, *await self._come_of(str(check))]

    async def _come_of(self, check: str) -> list[str]:
        """What a check that ran has come to."""
        live = self.bay.live
        if live is not None and live.check == check:
            if live.to_bar_deg is None:
                return []
            return [f"{check}: covered {live.covered_deg or 0.0:.0f}°; bar {live.to_bar_deg:.0f}° more"]
        result = await self.bay.result()
        found = None if result is None else result.checks.by_name().get(check)
        if isinstance(found, SurfaceCheck):
            return [f"{check}: {swept_text(found)}"]
        if isinstance(found, ThicknessCheck):
            return [f"{check}: {found.outcome}: {found.reason}"]
        return []

    async def _wait(self, words: list[str]) -> list[str]:
        return self.shop.wait(_only("wait", "minutes", words))

    async def _warm(self, words: list[str]) -> list[str]:
        return self.shop.warm(_only("warm", "degrees Celsius", words))

    async def _measure(self, words: list[str]) -> list[str]:
        places = 1 if not words else PLACES_MOST if words == ["all"] else _only("micrometer", "places", words)
        said = await self.micrometer.measure(int(places))
        live = self.bay.live
        is_running = live is not None and live.check == "thickness"
        return said if is_running else [*said, *await self._come_of("thickness")]

    async def _look(self, words: list[str]) -> list[str]:
        return self.sight.look(words)

    async def _result(self, _: list[str]) -> list[str]:
        result = await self.bay.result()
        if result is None:
            raise ActError("result: no inspection is open: open")
        return result_lines(result, UNITS["mm"])

    async def _help(self, _: list[str]) -> list[str]:
        return (HELP if self.is_exam else HELP + HINT).splitlines()

    async def _hint(self, words: list[str]) -> list[str]:
        if self.is_exam:
            raise ActError("hint: an exam has none")
        if words not in ([], ["fault"]):
            raise ActError("hint, or hint fault")
        self.diary.hints += 1
        if words:
            return [f"{self.shop.specimen.fault}: {hints.FAULTS[self.shop.specimen.fault]}"]
        return [hints.next_step(self.shop, self.diary, self.bay.live, await self.bay.result())]

    async def _finish(self, _: list[str]) -> list[str]:
        self.is_over = True
        return []

    async def _quit(self, _: list[str]) -> list[str]:
        self.is_over = self.is_quit = True
        return []


def _only(name: str, what: str, words: list[str]) -> float:
    if len(words) != 1:
        raise ActError(f"{name}: how many {what}? {name} 20")
    return _number(name, words[0])


def _number(name: str, word: str) -> float:
    try:
        number = float(word)
    except ValueError:
        number = float("nan")
    if number != number or abs(number) > 1e6:
        raise ActError(f"{name}: a number, not {word!r}")
    return number
