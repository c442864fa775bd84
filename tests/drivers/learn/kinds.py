"""Gauges of every archetype, drawn by a seed: what an unknown one may be."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Any

from config.files import shipped_names
from config.profile import (
    GaugeProfile,
    HidPort,
    KeyboardPort,
    LineKey,
    Manner,
    PortSettings,
    UsbPort,
    WireUnit,
)
from drivers.encoding import encode
from drivers.learn.checks import CRCS
from drivers.learn.contacts import LINES
from drivers.learn.heard import Quantity
from ringtrue.learning import REQUESTS
from tests.drivers.learn.keys import Key
from tests.drivers.learn.unknown import Unknown
from tests.drivers.support import profile

BAUDS = (1200, 2400, 4800, 9600, 19_200, 38_400, 57_600, 115_200)
STEP = {WireUnit.MM: 1_000, WireUnit.INCH: 254, WireUnit.DEG: 1_000, WireUnit.COUNT: 1}
UNSIGNED_AT = 15_000_000


@dataclass(frozen=True)
class Drawn:
    name: str
    gauge: Unknown
    quantity: Quantity


def shipped_ones(seed: int) -> list[Drawn]:
    """All that ship."""
    every = [_of(profile(name), random.Random(seed), name) for name in shipped_names("gauges")]
    for one in every:
        one.gauge.counter = 0 if one.name == "hid-checked-mm" else None
    return every


def unset(port: PortSettings) -> list[PortSettings] | None:
    """How it is listened to while nothing is known of it but where it is plugged in."""
    if isinstance(port, HidPort):
        return [HidPort(kind="hid")]
    if isinstance(port, UsbPort):
        return [UsbPort(kind="usb", apart=True)]
    return [KeyboardPort(kind="keyboard")] if isinstance(port, KeyboardPort) else None


def apart(seed: int) -> Drawn:
    """One that is on no serial port."""
    rng = random.Random(seed)
    name, kind = rng.choice([_reports, _reports, _packets, _stream, _stream, _typed, _typed])(rng)
    kind |= {"schema": "ringtrue/gauge/1", "id": "truth", "description": name}
    kind["manner"] = _manner(rng)
    if name == "typed" and kind["manner"]["kind"] == "requested":
        kind["manner"] = {"kind": "key-press"}
    kind["proof"] = [{"hex": "00", "rejected": True}]
    return _of(GaugeProfile.model_validate(kind), rng, name)


def drawn(seed: int) -> Drawn:
    rng = random.Random(seed)
    name, kind = rng.choice(
        [_text, _text, _text, _fields, _marked, _digits, _digits, _burst, _whole, _whole, _checked_digits]
    )(rng)
    kind |= {"schema": "ringtrue/gauge/1", "id": "truth", "description": name}
    kind["manner"] = _manner(rng)
    kind["proof"] = [{"hex": "00", "rejected": True}]
    made = GaugeProfile.model_validate(kind)
    return _of(made, rng, name)


def _of(kind: GaugeProfile, rng: random.Random, name: str) -> Drawn:
    unit = kind.value.unit
    quantity: Quantity = "length" if unit in (WireUnit.MM, WireUnit.INCH) else "angle"
    step = STEP[unit] * rng.choice((1, 1, 1, 10 if quantity == "length" and unit is WireUnit.MM else 1))
    offset = 0 if rng.random() < 0.6 else rng.randint(-2_000, 2_000) * 1_000
    if quantity == "angle":
        offset = rng.randint(0, 359_999) * 1000 if unit is WireUnit.DEG else rng.randint(-20_000, 20_000)
    elif not _shows(kind, -1_000_000):
        offset = UNSIGNED_AT + offset
    return Drawn(
        name,
        Unknown(
            kind,
            rng,
            period_s=rng.choice((0.05, 0.1, 0.1, 0.2, 0.4)),
            offset=offset,
            noise=rng.choice((0.0, 0.3, 0.6)),
            step=step,
            garbage=rng.random() < 0.7,
            travel=12.3 if quantity == "length" else 100.0,
            key=_key(kind.manner),
        ),
        quantity,
    )


def _key(manner: Manner) -> Key | None:
    if not isinstance(manner, LineKey):
        return None
    return Key(manner.line, tuple(line == manner.line and manner.pressed == "off" for line in LINES))


def _shows(kind: GaugeProfile, value: int) -> bool:
    try:
        encode(value, kind)
    except Exception:
        return False
    return True


def _port(rng: random.Random, *, seven: bool) -> dict[str, Any]:
    size, parity = rng.choice(
        [(8, "none"), (8, "none"), (8, "even"), *([(7, "even"), (7, "odd")] if seven else [])]
    )
    return {"baud": rng.choice(BAUDS), "bytesize": size, "parity": parity}


def _manner(rng: random.Random) -> dict[str, Any]:
    kind = rng.choice(("free-running", "free-running", "free-running", "requested", "key-press"))
    if kind == "free-running":
        return {"kind": kind, "period_s": 0.5}
    if kind == "requested":
        return {"kind": kind, "request": rng.choice(REQUESTS), "period_s": 0.1, "timeout_s": 0.3}
    return {"kind": kind}


def _number(rng: random.Random) -> tuple[str, str, str, str]:
    """Pattern, template, unit and scale of a number as text."""
    unit, decimals = rng.choice((("mm", 3), ("mm", 3), ("mm", 4), ("mm", 2), ("in", 5), ("in", 4)))
    width = rng.randint(decimals + 4, decimals + 6)
    form = rng.choice(("zeros", "padded", "sign first", "bare", "space sign", "unsigned", "no point"))
    point = rf"\.\d{{{decimals}}}"
    scale = rng.choice(("1", "1", "1", "-1"))
    whole = width - decimals - 2
    if form == "zeros":
        return rf"(?P<value>[+-]\d{{{whole}}}{point})", f"{{:+0{width}.{decimals}f}}", unit, scale
    if form == "padded":
        return rf" *(?P<value>-?\d+{point})", f"{{:{width}.{decimals}f}}", unit, scale
    if form == "sign first":
        return rf"(?P<sign>[+-]) *(?P<value>\d+{point})", f"{{: =+{width}.{decimals}f}}", unit, scale
    if form == "bare":
        return rf"(?P<value>-?\d+{point})", f"{{:.{decimals}f}}", unit, scale
    if form == "space sign":
        return rf"(?P<sign>[ -])(?P<value>\d{{{whole}}}{point})", f"{{: 0{width}.{decimals}f}}", unit, scale
    if form == "unsigned":
        return rf"(?P<value>\d{{{whole}}}{point})", f"{{:0{width - 1}.{decimals}f}}", unit, "1"
    return r"(?P<value>[+-]\d{7})", "{:+08.0f}", unit, f"{'-' if scale == '-1' else ''}1e-{decimals}"


def _lined(rng: random.Random, pattern: str, template: str, unit: str, scale: str) -> dict[str, Any]:
    return {
        "port": _port(rng, seven=True),
        "framing": {"kind": "line", "terminator": rng.choice(("\r\n", "\r", "\n")), "max_bytes": 64},
        "value": {"kind": "pattern", "pattern": pattern, "template": template, "unit": unit, "scale": scale},
    }


def _text(rng: random.Random) -> tuple[str, dict[str, Any]]:
    pattern, template, unit, scale = _number(rng)
    before, after = rng.choice(("", "", "", "A", "R1:")), rng.choice(("", "", "", unit, f" {unit}"))
    return "line", _lined(rng, before + pattern + after, before + template + after, unit, scale)


def _fields(rng: random.Random) -> tuple[str, dict[str, Any]]:
    """Several in a line; the others stand still."""
    pattern, template, unit, scale = _number(rng)
    other = rng.choice(("+001.250;", "23.5;", "07 "))
    as_pattern = r"[ +.\d-]+;" if ";" in other else r"\d+ "
    return "fields", _lined(rng, as_pattern + pattern, other + template, unit, scale)


def _marked(rng: random.Random) -> tuple[str, dict[str, Any]]:
    """Between a start and an end of text."""
    pattern, template, unit, scale = _number(rng)
    kind = _lined(rng, "\x02" + pattern, "\x02" + template, unit, scale)
    kind["framing"]["terminator"] = "\x03"
    return "marked", kind


def _value_digits(
    rng: random.Random, coding: str, decimals: int, unit: str, tail: tuple[int, ...]
) -> dict[str, Any]:
    number = list(range(1, 7))
    if rng.random() < 0.3:
        number.reverse()
    marks = [{"at": 7 + at, "digit": digit} for at, digit in enumerate(tail)]
    return {
        "kind": "digits", "coding": coding, "number": number, "decimals": decimals, "unit": unit,
        "sign": {"at": 0, "mask": rng.choice((1, 8))}, "marks": marks, "scale": rng.choice(("1", "-1")),
    }  # fmt: skip


def _shown(rng: random.Random) -> tuple[str, int]:
    return rng.choice((("mm", 3), ("mm", 3), ("mm", 4), ("in", 5)))


def _digits(rng: random.Random) -> tuple[str, dict[str, Any]]:
    tail: tuple[int, ...]
    unit, decimals = _shown(rng)
    coding = rng.choice(("nibbles", "low-nibbles", "mirrored", "characters"))
    if coding == "characters":
        start, tail = rng.choice((0x02, 0xAA)), (decimals,)
    elif coding == "mirrored":
        start, tail = 0xFF, (decimals, 14, 14)
    else:
        start, tail = rng.choice((0xFA, 0xFF)), (decimals, 14, 14)
    value = _value_digits(rng, coding, decimals, unit, tail)
    length = 9 if coding == "characters" else 6
    framing = {"kind": "fixed", "length": length, "start_byte": start}
    return f"digits {coding}", {"port": _port(rng, seven=False), "framing": framing, "value": value}


def _burst(rng: random.Random) -> tuple[str, dict[str, Any]]:
    """Thirteen digits and half a byte, told by pauses."""
    unit, decimals = _shown(rng)
    coding = rng.choice(("nibbles", "low-nibbles", "mirrored"))
    value = {
        "kind": "digits", "coding": coding, "number": [5, 6, 7, 8, 9, 10], "decimals": decimals, "unit": unit,
        "sign": {"at": 4, "mask": rng.choice((1, 8))},
        "marks": [*({"at": at, "digit": 15} for at in range(4)), {"at": 11, "digit": decimals},
                  {"at": 12, "digit": 0}, {"at": 13, "digit": 0}],
    }  # fmt: skip
    framing = {"kind": "fixed", "length": 7, "max_pause_s": 0.03}
    return "burst", {
        "port": _port(rng, seven=False) | {"baud": rng.choice(BAUDS[2:])},
        "framing": framing,
        "value": value,
    }


def _check(rng: random.Random) -> dict[str, Any]:
    covers, order = rng.choice(("data", "frame")), rng.choice(("high-first", "low-first"))
    kind = rng.choice(("sum", "xor", "crc"))
    if kind == "xor":
        covers = "data"  # over the start byte too it is that very byte at nought: nothing tells a beginning
    more: dict[str, Any] = {}
    if kind == "sum":
        more = {"bits": rng.choice((8, 16)), "negated": rng.random() < 0.5}
    elif kind == "crc":
        bits, polynomial, initial, reflected, final_xor = rng.choice(CRCS)
        more = {
            "bits": bits,
            "polynomial": polynomial,
            "initial": initial,
            "reflected": reflected,
            "final_xor": final_xor,
        }
    return {
        "kind": kind,
        "covers": covers,
        "order": order,
        "form": rng.choice(("bytes", "bytes", "hex")),
    } | more


def _in_check(rng: random.Random, size: int, value: dict[str, Any]) -> dict[str, Any]:
    check = _check(rng)
    own = check.get("bits", 8) // 8 * (2 if check["form"] == "hex" else 1)
    framing = {
        "kind": "checked",
        "max_pause_s": 0.02,
        "length": 1 + size + own,
        "start_byte": rng.choice((0xA5, 0x3A, 0x10)),
        "check": check,
    }
    return {"port": _port(rng, seven=False), "framing": framing, "value": value}


def _whole(rng: random.Random) -> tuple[str, dict[str, Any]]:
    unit, decimals = _shown(rng)
    size = rng.choice((3, 4, 4)) if decimals > 3 else rng.choice((2, 3, 4))
    at, behind = rng.randint(0, 2), rng.randint(0, 1)
    value = {
        "kind": "integer", "length": at + size + behind, "at": at, "size": size, "decimals": decimals,
        "order": rng.choice(("high-first", "low-first")), "unit": unit, "scale": rng.choice(("1", "-1")),
    }  # fmt: skip
    return "integer", _in_check(rng, at + size + behind, value)


def _checked_digits(rng: random.Random) -> tuple[str, dict[str, Any]]:
    unit, decimals = _shown(rng)
    value = _value_digits(rng, "nibbles", decimals, unit, (decimals,))
    return "digits with check", _in_check(rng, 4, value)


def _in_packets(rng: random.Random) -> dict[str, Any]:
    """A number in binary, digits, or text, with nothing that ends it."""
    unit, decimals = _shown(rng)
    form = rng.choice(("integer", "integer", "digits", "text"))
    if form == "text":
        pattern, template, unit, scale = _number(rng)
        while r"\." not in pattern:
            pattern, template, unit, scale = _number(rng)
        value: dict[str, Any] = {"pattern": pattern, "template": template, "unit": unit, "scale": scale}
        return {"framing": {"kind": "packet", "max_bytes": 32}, "value": value | {"kind": "pattern"}}
    if form == "digits":
        value = _value_digits(rng, rng.choice(("nibbles", "characters")), decimals, unit, (decimals,))
        return {"framing": {"kind": "packet", "max_bytes": 8}, "value": value}
    size = rng.choice((3, 4)) if decimals > 3 else rng.choice((2, 3, 4))
    at, behind = rng.randint(0, 2), rng.randint(0, 3)
    value = {
        "kind": "integer", "length": at + size + behind, "at": at, "size": size, "decimals": decimals,
        "order": rng.choice(("high-first", "low-first")), "unit": unit, "scale": rng.choice(("1", "-1")),
    }  # fmt: skip
    return {"framing": {"kind": "packet", "max_bytes": 16}, "value": value}


def _reports(rng: random.Random) -> tuple[str, dict[str, Any]]:
    kind = _in_packets(rng)
    port = {"kind": "hid"} | ({"report_id": 1} if rng.random() < 0.5 else {})
    return f"report, {kind['value']['kind']}", kind | {"port": port}


def _packets(rng: random.Random) -> tuple[str, dict[str, Any]]:
    kind = _in_packets(rng)
    return f"packet, {kind['value']['kind']}", kind | {"port": {"kind": "usb", "apart": True}}


def _stream(rng: random.Random) -> tuple[str, dict[str, Any]]:
    """Text, or numbers in a check, as on a line; text also behind a converter's own two bytes."""
    name, kind = rng.choice((_text, _fields, _marked, _whole, _checked_digits))(rng)
    skip = rng.choice((0, 2)) if name in ("line", "fields", "marked") else 0
    return f"stream, {name}", kind | {"port": {"kind": "usb", "skip_bytes": skip}}


def _typed(rng: random.Random) -> tuple[str, dict[str, Any]]:
    pattern, template, unit, scale = _number(rng)
    end = rng.choice(("enter", "enter", "tab"))
    return "typed", {
        "port": {"kind": "keyboard", "layout": rng.choice(("us", "german", "french")), "end": end},
        "framing": {"kind": "line", "terminator": "\n" if end == "enter" else "\t", "max_bytes": 32},
        "value": {"kind": "pattern", "pattern": pattern, "template": template, "unit": unit, "scale": scale},
    }
