"""What is plugged in, in words and as JSON."""

from __future__ import annotations

import json
from typing import Any

from config.profile import WireUnit
from drivers.connected import Connected
from ringtrue.guessing import Fit
from ringtrue.listening import Listened

_KINDS = {
    "serial": "serial port",
    "keyboard": "keyboard: a gauge that types, or somebody's keyboard",
    "hid": "USB device with reports (HID)",
    "usb": "USB device with endpoints of its own",
}
# Of each unit on the wire: whole units of readings in one that is shown, decimals, and what it is called.
_SHOWN = {"mm": (1e6, 3, "mm"), "in": (1e6, 3, "mm"), "deg": (1e6, 2, "deg"), "count": (1.0, 0, "counts")}
HEARD_BYTES = 16


def told(one: Listened) -> str:
    """A paragraph: what it is, how it is known, what came, and the block."""
    port = one.connected
    kind = "USB serial adapter" if port.kind == "serial" and port.vid is not None else _KINDS[port.kind]
    words = f', calls itself "{port.own_words}"' if port.own_words else ""
    lines = [f"{port.device}: {kind}{words}"]
    if one.gauge is not None:
        lines.append(f"  is {one.gauge} of the configuration")
    lines += [f"  known by {_known_by(one)}", f"  {_heard(one)}"]
    if one.gauge is None and not port.is_taken:
        lines += [f"  {line}" for line in ("to paste:", *block(one))]
    return "\n".join(lines)


def block(one: Listened) -> list[str]:
    """The lines that make it a gauge of the bay."""
    fit = one.fits[0] if one.fits else None
    is_encoder = fit is not None and fit.profile.value.unit in (WireUnit.DEG, WireUnit.COUNT)
    name = json.dumps(fit.name) if fit is not None else "?   # ringtrue learn writes one; docs/gauges.md"
    lines = [
        "[[gauge]]",
        f'id = "{"encoder-1" if is_encoder else "indicator-1"}"',
        f"profile = {name}",
        place(one.connected, by_serial=one.by_serial),
    ]
    if not is_encoder:
        lines += ["resolution_mm = ?   # one step of its display", "mpe_mm = ?   # from its certificate"]
    return lines


def place(port: Connected, *, by_serial: bool) -> str:
    """The line that says which device it is."""
    if port.vid is None or port.pid is None:
        return f"port = {json.dumps(port.device)}"
    which = (
        f"serial = {json.dumps(port.serial_number)}" if by_serial else f"location = {json.dumps(port.where)}"
    )
    return f"usb = {{ vendor = 0x{port.vid:04x}, product = 0x{port.pid:04x}, {which} }}"


def as_json(one: Listened) -> dict[str, Any]:
    """The same for a program."""
    port = one.connected
    return {
        "port": port.device,
        "kind": port.kind,
        "vendor": port.vid,
        "product": port.pid,
        "serial": port.serial_number,
        "location": port.where,
        "known_by": "serial" if one.by_serial else "location" if port.where else "port",
        "own_words": port.own_words,
        "in_use": port.is_taken,
        "gauge": one.gauge,
        "profiles": [fit.name for fit in one.fits],
        "reads": _value(one.fits[0]) if one.fits else None,
        "heard_hex": one.heard[:HEARD_BYTES].hex() if one.heard is not None else None,
        "trouble": one.trouble,
        "block": "\n".join(block(one)),
    }


def _known_by(one: Listened) -> str:
    port = one.connected
    if port.vid is None:
        return "its name: it is part of the machine"
    device = f"vendor 0x{port.vid:04x}, product 0x{port.pid:04x}"
    if one.by_serial:
        return f"its serial number {port.serial_number} ({device}), wherever it is plugged in"
    why = (
        "it has no serial number"
        if port.serial_number is None
        else f"another has the serial number {port.serial_number} too"
    )
    return f"where it is plugged in, {port.where} ({device}): {why}"


def _heard(one: Listened) -> str:
    port = one.connected
    if port.is_taken:
        return "in use by another program, such as the daemon: left alone"
    if one.trouble is not None:
        return one.trouble
    if one.fits:
        first, *others = one.fits
        also = f" (so would {' and '.join(fit.name for fit in others)})" if others else ""
        return f"profile {first.name} reads it{also}: now {_value(first)}"
    if one.heard is None and one.is_listened:
        return "no reading was typed: press the gauge's key while this listens (--seconds 10)"
    if one.heard is None:
        return "not listened to"
    if one.heard:
        said = "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in one.heard[:HEARD_BYTES])
        return f"it sends what no profile reads, such as {one.heard[:HEARD_BYTES].hex(' ')} {said}: learn it"
    return "nothing came: switched off, or it sends when its key is pressed or when it is asked"


def _value(fit: Fit) -> str:
    scale, decimals, unit = _SHOWN[fit.profile.value.unit.value]
    return f"{fit.last.value / scale:.{decimals}f} {unit}"
