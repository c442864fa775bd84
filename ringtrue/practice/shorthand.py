"""The bay's commands in a few words: what a trainee types, as the command and its arguments."""

from __future__ import annotations

import shlex
from dataclasses import dataclass, field
from typing import Any

from contract.commands import COMMANDS
from ringtrue.commands.send import argument
from ringtrue.demo_folder import INDICATOR, MICROMETER
from ringtrue.practice.bay import PracticeBay
from ringtrue.practice.diary import Diary
from ringtrue.practice.sight import Sight
from ringtrue.practice.workshop import ActError

SCOPES = ("both", "on-engine", "bench")
GAUGES = {"rim": INDICATOR, "face": INDICATOR, "thickness": MICROMETER}
SEEN = ("good", "bad")
# Keys of a reply that are told otherwise, or say nothing to a person.
_UNSHOWN = ("id", "ok", "asked", "error", "cautions", "summary", "inspection")


@dataclass(slots=True)
class Shorthand:
    """job: engine, damper and what else an inspection is opened with."""

    bay: PracticeBay
    sight: Sight
    diary: Diary
    job: dict[str, Any]
    _recorded: set[tuple[str, str]] = field(default_factory=set)

    async def send(self, name: str, text: str) -> list[str]:
        """One command; what came of it. Raises ActError, RefusedError or NothingHeardError."""
        words, arguments = _split(name, text)
        if name == "record" and "items" not in arguments and not {"value_mm", "check"} & set(arguments):
            return await self._record(words, arguments)
        match name, words:
            case "open", [scope] if scope in SCOPES:
                arguments = {**self.job, "scope": scope, **arguments}
            case "open", []:
                arguments = {**self.job, "scope": "both", **arguments}
            case "open", _:
                raise ActError(f"open: {' or '.join(SCOPES)}, or nothing for both")
            case "begin", [check] if check in GAUGES:
                arguments = {"check": check, "gauge": GAUGES[check], **arguments}
            case "begin", _ if "check" not in arguments:
                raise ActError(f"begin: {' or '.join(GAUGES)}")
            case "sign", _:
                arguments |= {"sure": True} if "sure" in words else {}
                signer = " ".join(word for word in words if word != "sure")
                arguments = {"name": signer, **arguments} if signer else arguments
                if "name" not in arguments:
                    raise ActError("sign: who signs? sign R. Example")
            case _, [] | ["typed"]:
                pass
            case _:
                raise ActError(f"{name}: {' '.join(words)!r} is not understood; arguments are KEY=VALUE")
        if name in ("close", "sign", "abandon"):
            result = await self.bay.result()  # opened, perhaps, from another terminal
            if result is None:
                raise ActError(f"{name}: no inspection is open: open")
            arguments = {"inspection": result.inspection, **arguments}
        reply = await self.bay.command(name, **arguments)
        if name == "open":
            self._recorded.clear()
        return _told(name, reply)

    async def _record(self, words: list[str], arguments: dict[str, Any]) -> list[str]:
        seen = next((word for word in words if word in SEEN), None)
        if seen is None:
            raise ActError("record: [CHECK] ITEM good or bad, such as: record leak bad; record soak good 60")
        place = words.index(seen)
        named, more = words[:place], words[place + 1 :]
        is_rest = bool(named) and named[-1] == "rest"
        check, items = self.sight.find(named[:-1] if is_rest else named)
        figures = {rule.id: rule.figure for rule in self.bay.method.observed[check].item}
        if len(items) > 1:
            if seen == "bad" or more:
                raise ActError("record: say which item is bad, one by one, such as: record leak bad")
            done = self._recorded if is_rest else set()
            items = [item for item in items if figures[item] is None and (check, item) not in done]
        if not items:
            raise ActError(f"record: nothing of {check} is left; what asks a figure is recorded by itself")
        one: dict[str, Any] = {"seen": seen}
        if len(items) == 1 and more and figures[items[0]] is not None:
            one[str(figures[items[0]])] = _number(more.pop(0))
        if more:
            one["note"] = " ".join(more)
        said = [{"item": item, **one, **arguments} for item in items]
        await self.bay.command("record", check=check, items=said)
        self._recorded.update((check, item) for item in items)
        for item in items:
            is_amiss, true_min = self.sight.is_amiss(check, item), self.sight.figure(check, item)
            claimed = said[0].get("time_min")
            self.diary.recorded(check, item, is_amiss=is_amiss, claimed=claimed, true_min=true_min)
        left = [item for item in self.sight.items(check) if (check, item) not in self._recorded]
        lines = [f"{check}: {', '.join(items)} recorded as {seen}"]
        return [*lines, f"not recorded yet: {', '.join(left)}"] if left else lines


def is_command(name: str) -> bool:
    """Whether a word is one of the bay's commands."""
    return name in COMMANDS


def _split(name: str, text: str) -> tuple[list[str], dict[str, Any]]:
    """Plain words, and arguments with a key."""
    try:
        parts = shlex.split(text)
        keyed = dict(argument(part) for part in parts if "=" in part)
    except ValueError as error:
        said = "a quotation mark is not closed" if "quotation" in str(error) else str(error)
        raise ActError(f"{name}: {said}") from None
    return [part for part in parts if "=" not in part], keyed


def _number(word: str) -> float:
    try:
        return float(word)
    except ValueError:
        raise ActError(f"record: {word!r} is no number: record soak good 60") from None


def _told(name: str, reply: dict[str, Any]) -> list[str]:
    rest = {key: value for key, value in reply.items() if key not in _UNSHOWN and value not in (None, [])}
    match name:
        case "open":
            said = f"inspection {reply['inspection']} is open"
        case "begin":
            said = f"{reply.get('check')}: begun with {reply.get('gauge')}"
        case _:
            said = reply.get("summary") or f"{name}: done"
            if not reply.get("summary") and rest:
                said += f" ({', '.join(f'{key} {value}' for key, value in rest.items())})"
    return [str(said), *(f"caution: {line}" for line in reply.get("cautions") or ())]
