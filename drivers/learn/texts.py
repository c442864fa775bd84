"""Where the number may be in frames that are text, and how its gauge writes it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from pydantic import ValidationError

from config.profile import WIRE, PatternValue, WireUnit
from drivers.learn.heard import Cut, Quantity, Step
from drivers.learn.moves import Meaning, meaning

# A number with its sign and the spaces within and before it.
_NUMBER = re.compile(
    rb"(?P<before> *)(?P<sign>[+-]?)(?P<within> *)(?P<whole>[0-9]+)(?:(?P<point>[.,])(?P<rest>[0-9]*))?"
    rb"(?P<power>[eE][+-][0-9]{2})?"
)
# Stands for the point of a pattern until it is known.
POINT = "\0"
# With a power of ten a number is held against the movements in so many decimals of a unit.
FINE = 6
_UNITS = {b"mm": WireUnit.MM, b"in": WireUnit.INCH, b"inch": WireUnit.INCH, b'"': WireUnit.INCH}


@dataclass(frozen=True, slots=True)
class _Line:
    """What stands between the numbers, and the numbers."""

    between: tuple[bytes, ...]
    numbers: tuple[re.Match[bytes], ...]


def texts(cut: Cut, steps: Sequence[Step], quantity: Quantity, *, is_line: bool) -> Iterator[PatternValue]:
    """Each number of the text that is what was moved. Without a point only in lines: else they are digits."""
    lines = [[_line(frame) for frame in some] for some in cut.data]
    every = [line for some in lines for line in some]
    if not every or len({line.between for line in every}) > 1 or not all(map(_is_text, cut.every)):
        return
    between = every[0].between
    for at in range(len(every[0].numbers)):
        if b"," in (between[at], between[at + 1]) and b"." not in cut.every[0]:
            continue  # digits on both sides of a comma may be one number
        if len({(line.numbers[at]["point"], line.numbers[at]["power"] is None) for line in every}) > 1:
            continue
        shown = {_decimals(line.numbers[at]) for line in every}
        numbers = [[_whole(line.numbers[at], max(shown)) for line in some] for some in lines]
        has_point = max(shown) > 0
        if not has_point and (not is_line or not _ends_speak([line.numbers[at]["whole"] for line in every])):
            continue
        means = meaning(numbers, steps, quantity, max(shown) if has_point else None)
        said = _UNITS.get(between[at + 1].strip().lower().split(b" ")[0] if between[at + 1] else b"")
        if means is None or (said is not None and said is not means.unit):
            continue
        if every[0].numbers[at]["point"] == b"," and abs(means.scale) != 1:
            continue  # two numbers with a comma between
        value = _value(every, at, means, max(shown) if has_point else 0)
        if value is not None:
            yield value


def _ends_speak(numbers: Sequence[bytes]) -> bool:
    """Whether the first and last of its figures are the number's: one that never changes, and is not nought,
    may be anything."""
    return all(len({number[at] for number in numbers}) > 1 or numbers[0][at] == 0x30 for at in (0, -1))


def _is_text(frame: bytes) -> bool:
    return all(0x20 <= byte < 0x7F or byte in b"\x02\x03\t" for byte in frame)


def _line(frame: bytes) -> _Line:
    numbers = tuple(_NUMBER.finditer(frame))
    ends = [0, *(number.end() for number in numbers)]
    begins = [*(number.start() for number in numbers), len(frame)]
    return _Line(tuple(frame[a:b] for a, b in zip(ends, begins, strict=True)), numbers)


def _decimals(number: re.Match[bytes]) -> int:
    return FINE if number["power"] else len(number["rest"] or b"")


def _whole(number: re.Match[bytes], decimals: int) -> int:
    if number["power"]:
        text = b"%b%b.%b%b" % (number["sign"], number["whole"], number["rest"] or b"0", number["power"])
        return round(Decimal(text.decode()).scaleb(decimals))
    digits = number["whole"] + (number["rest"] or b"").ljust(decimals, b"0")
    return -int(digits) if number["sign"] == b"-" else int(digits)


def _value(every: Sequence[_Line], at: int, means: Meaning, shown: int) -> PatternValue | None:
    """None where it writes its number in a way of which nothing can be made."""
    between, others = every[0].between, every[0].numbers
    numbers = [line.numbers[at] for line in every]
    own = _powered(numbers) if numbers[0]["power"] else _own(numbers, shown)
    if own is None:
        return None
    pattern, template = "", ""
    for number, text in enumerate(between):
        pattern += re.escape(text.decode(WIRE))
        template += text.decode(WIRE).replace("{", "{{").replace("}", "}}")
        if number == at:
            pattern, template = pattern + own.pattern, template + own.template
        elif number < len(others):
            if len({line.numbers[number][0] for line in every}) == 1:  # another channel is another gauge
                pattern += re.escape(others[number][0].decode(WIRE))
                template += others[number][0].decode(WIRE)
                continue
            widths = {len(line.numbers[number][0]) for line in every}
            times = f"{min(widths)}" if len(widths) == 1 else f"{min(widths)},{max(widths)}"
            pattern += rf"[ +\-.,0-9eE]{{{times}}}"
            template += others[number][0].decode(WIRE)
    lengths = {sum(map(len, line.between)) + sum(len(one[0]) for one in line.numbers) for line in every}
    if own.width and len(lengths) == 1:
        pattern = rf"(?=.{{{lengths.pop()}}}\Z){pattern}"
    scale = means.scale if shown else means.scale.scaleb(-means.decimals)
    has_comma = numbers[0]["point"] == b","
    try:
        return PatternValue(
            pattern=pattern.replace(POINT, "," if has_comma else r"\."),
            template=template,
            point="," if has_comma else ".",
            unit=means.unit,
            scale=Decimal(f"{scale.normalize():f}"),
        )
    except ValidationError:
        return None


@dataclass(frozen=True, slots=True)
class _Own:
    """How a number itself is written. width: characters, 0 where it may have more or fewer."""

    pattern: str
    template: str
    width: int


def _powered(numbers: Sequence[re.Match[bytes]]) -> _Own | None:
    """One with a power of ten, whose figures are always as many."""
    rests = {len(number["rest"] or b"") for number in numbers}
    wholes = {len(number["whole"]) for number in numbers}
    if len(rests) > 1 or wholes != {1} or any(number["before"] or number["within"] for number in numbers):
        return None
    has_plus = any(number["sign"] == b"+" for number in numbers)
    (rest,) = rests
    letter = "E" if b"E" in (numbers[0]["power"] or b"") else "e"
    point = rf"{POINT}\d{{{rest}}}" if rest else ""
    pattern = rf"(?P<value>{'[+-]' if has_plus else '-?'}\d{point}{letter}[+-]\d{{2}})"
    return _Own(pattern, f"{{:{'+' if has_plus else ''}.{rest}{letter}}}", 0)


def _own(numbers: Sequence[re.Match[bytes]], shown: int) -> _Own | None:
    lead = _lead(numbers)
    widths = {len(number[0]) - lead for number in numbers}
    wholes = {len(number["whole"]) for number in numbers}
    signs = {number["sign"] for number in numbers}
    padded = any(len(number["before"]) > lead for number in numbers)
    within = any(number["within"] for number in numbers)
    floats = len({_decimals(number) for number in numbers}) > 1
    if len(widths) > 1 and (floats or padded or within):
        return None
    width = widths.pop() if len(widths) == 1 else 0
    point = "" if not shown else rf"{POINT}\d+" if floats else rf"{POINT}\d{{{shown}}}"
    plus = "+" if b"+" in signs else ""
    sign = "[+-]?" if plus and b"" in signs else "[+-]" if plus else "-?" if b"-" in signs else ""
    spaces = " " * lead

    def own(pattern: str, template: str, width: int = width) -> _Own:
        return _Own(spaces + pattern, f"{spaces}{{:{template}.{shown}f}}", width)

    if padded or within:
        taken = "[+-]?" if signs == {b"-"} else sign or "-?"
        pattern = rf" *(?P<sign>{taken}) *(?P<value>\d+{point})"
        filled = any(_is_filled(number) for number in numbers)
        return own(pattern, f" ={plus or ' '}{width}" if within else f"{' 0' if filled else plus}{width}")
    # What stands for plus was not heard; a minus that was not heard can mean nothing else.
    if wholes == {1} and not floats:  # nothing shows that it could not have more before the point
        taken = "[ +-]?" if signs == {b"-"} else sign or "-?"
        return own(rf"(?P<sign>{taken})(?P<value>\d{{1,4}}{point})", plus, 0)
    if not width:
        return own(rf"(?P<value>{sign or '-?'}\d+{point})", plus)
    whole = rf"\d{{{wholes.pop()}}}" if len(wholes) == 1 else r"\d+"
    if signs == {b"-"}:
        return own(rf"(?P<sign>[ +-])(?P<value>{whole}{point})", f"+0{width}")
    return own(rf"(?P<value>{sign}{whole}{point})", f"{plus}0{width}")


def _is_filled(number: re.Match[bytes]) -> bool:
    return len(number["whole"]) > 1 and number["whole"][:1] == b"0"


def _lead(numbers: Sequence[re.Match[bytes]]) -> int:
    """How many spaces are no part of the number: they are always there, and it needs none of them."""
    before = {len(number["before"]) for number in numbers}
    bare = len({len(number[0]) for number in numbers}) > 1
    filled = any(map(_is_filled, numbers))
    if len(before) > 1 or not (bare or filled):
        return 0
    # The last one before a number that is filled up, and had no sign yet, is the place of its minus.
    return max(before.pop() - (filled and not any(number["sign"] for number in numbers)), 0)
