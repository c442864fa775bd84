"""Gauges whose frames have a check or a counter, and those whose key is across a modem line, by a seed."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

from config.profile import GaugeProfile, KeyPress, LineKey, Requested
from tests.drivers.learn.keys import drawn_key
from tests.drivers.learn.kinds import (
    Drawn,
    _check,
    _checked_digits,
    _in_packets,
    _manner,
    _of,
    _whole,
    drawn,
)


def keyed(seed: int) -> Drawn:
    """One on a serial port whose key is across a modem line."""
    rng = random.Random(seed)
    while True:
        made = drawn(rng.randrange(10**6))
        if not isinstance(made.gauge.kind.manner, KeyPress):
            break
    gauge, key = made.gauge, drawn_key(rng)
    gauge.key = replace(key, joined=None)
    own = {"kind": "modem-line", "line": key.line, "pressed": gauge.key.pressed, "timeout_s": 1.0}
    if isinstance(gauge.kind.manner, Requested):
        own["request"] = gauge.kind.manner.request
    gauge.kind = gauge.kind.model_copy(update={"manner": LineKey.model_validate(own)})
    return replace(made, name=f"key, {'asked' if 'request' in own else 'next frame'}")


def proved(seed: int) -> Drawn:
    """One whose frames have a check or a counter, in packets, on an endpoint or on a line."""
    rng = random.Random(seed)
    name, kind, counter = _proved(rng)
    kind |= {"schema": "ringtrue/gauge/1", "id": "truth", "description": name}
    kind["manner"] = _manner(rng)
    kind["proof"] = [{"hex": "00", "rejected": True}]
    made = _of(GaugeProfile.model_validate(kind), rng, name)
    as_digits = getattr(made.gauge.kind.value, "coding", "") == "characters"
    made.gauge.counter, made.gauge.counts_to = counter, rng.choice((16, 10) if as_digits else (256, 16, 10))
    return made


def _numbered(rng: random.Random, value: dict[str, Any]) -> int:
    """Another byte in it, which counts its frames: its place."""
    if value["kind"] == "integer":
        value["length"] += 1
        if rng.random() < 0.6:
            value["at"] += 1
        own = range(value["at"], value["at"] + value["size"])
        return rng.choice([at for at in range(value["length"]) if at not in own])
    each = 1 if value["coding"] == "characters" else 2
    last = max(mark["at"] for mark in value["marks"]) + 1
    value["free"] = list(range(last, last + each))
    return int(last // each)


def _proved(rng: random.Random) -> tuple[str, dict[str, Any], int | None]:
    """A number in binary or digits, with a check, with what counts its frames, or with both; and which byte
    counts."""
    counts = rng.random() < 0.6
    if rng.random() < 0.3:  # one after another, on a line or on an endpoint
        name, kind = rng.choice((_whole, _checked_digits))(rng)
        counter = _numbered(rng, kind["value"])
        kind["framing"]["length"] += 1
        if rng.random() < 0.5:
            kind["port"] = {"kind": "usb"}
        return f"counter, {name}", kind, counter
    kind = _in_packets(rng)
    while "pattern" in kind["value"]:
        kind = _in_packets(rng)
    number = _numbered(rng, kind["value"]) if counts else None
    framing: dict[str, Any] = {"kind": "packet", "max_bytes": 64}
    is_checked = number is None or rng.random() < 0.7
    if is_checked:
        start = {"start_byte": rng.choice((0xA5, 0x3A, 0x10))} if rng.random() < 0.5 else {}
        check = _check(rng)
        check["covers"] = check["covers"] if start else "data"
        framing |= {"check": check, "behind": rng.choice((0, 0, 3, 20))} | start
    port = {"kind": "usb", "apart": True} if rng.random() < 0.5 else {"kind": "hid"}
    name = " and ".join(["check"] * is_checked + ["counter"] * counts)
    return f"{port['kind']}, {name}", kind | {"framing": framing, "port": port}, number
