"""`ringtrue learn`: an unknown gauge is listened to and moved, and its profile written."""

from __future__ import annotations

import argparse
import json
import os
import sys
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ringtrue.arguments import UsageError, baud, byte, positive, seconds, serial_frame

if TYPE_CHECKING:
    from config.profile import PortSettings
    from drivers.learn.heard import Hearing
    from drivers.learn.judging import Reading
    from ringtrue.learning import Learnt, Trying

EXAMPLE = """\
examples:
  ringtrue learn /dev/ttyUSB0
  ringtrue learn /dev/ttyUSB0 --id shelf-gauge --move 2 --baud 4800
  ringtrue learn /dev/ttyUSB0 --may-transmit --request 'read\\r'
  ringtrue learn /dev/ttyUSB1 --angle
  ringtrue learn usb:1-2
  ringtrue learn /dev/input/by-id/usb-gauge-event-kbd
  ringtrue learn /dev/ttyUSB0 --key

exit: 0 found: its profile is written (of a switch alone its block is shown); 1 ambiguous or unknown: what was
heard is shown, nothing is written; 2 usage; 3 the port cannot be used, or failed; 130 Ctrl-C.
"""
# How much of what was heard is shown of each setting.
SHOWN_BYTES, SHOWN_SETTINGS = 48, 6
# Of each unit on the wire how many whole units of readings make one of what is shown.
_SHOWN = {"mm": (1e6, "mm"), "in": (1e6, "mm"), "deg": (1e6, "deg"), "count": (1.0, "counts")}
# What a gauge that types is named by.
INPUT = "/dev/input/"
# Seconds for which a port is opened to see that it is there.
LOOK_S = 0.05


def add(subparsers: argparse._SubParsersAction[Any]) -> None:
    """Describe the command."""
    parser = subparsers.add_parser(
        "learn",
        help="learn what an unknown gauge sends, by two known movements, and write its profile",
        description=(
            "Listens to a gauge of which nothing is known, tries speeds and frames, asks for two known "
            "movements and where need be for a travel, and makes out where its number is, in which unit and "
            "which way it counts. Only what explains every frame that came, and alone does, is written. It "
            "sends nothing without --may-transmit. docs/gauges.md tells more."
        ),
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "port",
        help="a device, a URL that stands for one, a place of USB as ringtrue gauges lists it (usb:1-2), or "
        "the input device of a gauge that types",
    )
    parser.add_argument("-o", "--output", metavar="FILE", help="the profile's file (default: ID.toml here)")
    parser.add_argument("--id", default="learnt-gauge", help="the profile's name (default: %(default)s)")
    parser.add_argument(
        "--move", type=positive, metavar="SIZE", help="how far it is moved (default: 1 mm, or 90 degrees)"
    )
    parser.add_argument("--angle", action="store_true", help="it is an encoder: movements are degrees")
    parser.add_argument(
        "--may-transmit", action="store_true", help="ask it for readings where it sends none of itself"
    )
    parser.add_argument(
        "--request",
        action="append",
        metavar="TEXT",
        help="what it is asked with, such as 'read\\r' (default: what is common)",
    )
    parser.add_argument(
        "--key",
        action="store_true",
        help="it has a key, or is a foot switch, across a modem line: which one, and how it rests, is learnt "
        "by five presses",
    )
    parser.add_argument("--baud", type=baud, help="its speed, where it is known")
    parser.add_argument("--frame", type=serial_frame, metavar="8N1", help="its frame, where it is known")
    which = "of a USB device with several, which one is read"
    parser.add_argument("--interface", type=byte, metavar="N", help=which)
    parser.add_argument(
        "--seconds", type=seconds, default=360.0, metavar="N", help="longest listening (default: 360)"
    )
    parser.add_argument("--json", action="store_true", help="print the answer as one JSON object")


def run(args: argparse.Namespace) -> int:
    """Do it. Raises PortError where the port cannot be opened."""
    from config.errors import RingtrueError
    from drivers.learn.speeds import settings
    from ringtrue.learning import Learning
    from ringtrue.switch_told import switch_told
    from ringtrue.unknown import Hands, UnknownLine

    trying = _trying(args)
    place = Path(args.output or f"{args.id}.toml")
    if place.exists():
        raise UsageError("-o", str(place), "the name of a file that is not there yet")
    if not os.access(place.absolute().parent, os.W_OK):
        raise UsageError("-o", str(place), "a folder that is there and can be written")
    try:
        with UnknownLine(args.port) as line:
            port = next(iter(trying.ports or settings()))
            line.listen(port, LOOK_S)  # that it is there, before anybody is asked
            if trying.key:
                line.watch(port, LOOK_S, lambda _: False)  # and has such lines
            learnt = Learning(line, Hands(trying.quantity, trying.moves[0]), trying).run()
    except EOFError:
        raise RingtrueError("learn asks for movements: run it in a terminal") from None
    except KeyboardInterrupt:
        print("stopped: nothing is written", file=sys.stderr)
        raise
    found = learnt.verdict.readings[0] if learnt.verdict.answer == "found" else None
    if found is not None:
        _write(place, found)
    key = learnt.contact
    if args.json:
        print(json.dumps(_as_json(learnt, found, place), ensure_ascii=False))
    elif found is not None:
        print(_found(args.port, place, found))
    elif not _is_switch(learnt):
        print(f"{learnt.verdict.answer}: {learnt.verdict.why}", file=sys.stderr)
        print("\n".join(_heard(learnt)), file=sys.stderr)
    if isinstance(key, str):
        print(f"its key is unknown: {key}", file=sys.stderr)
    elif key is not None and not args.json:
        print("\n".join(switch_told(key, _place(args.port), alone=found is None)))
    is_known = found is not None or _is_switch(learnt)
    return 0 if is_known and not isinstance(key, str) else 1


def _is_switch(learnt: Learnt) -> bool:
    """Whether there is nothing but a key on the port."""
    return not learnt.hearings and learnt.contact is not None and not isinstance(learnt.contact, str)


def _trying(args: argparse.Namespace) -> Trying:
    import re

    from config.profile import USB_PLACE, SerialPort
    from drivers.learn.speeds import settings
    from ringtrue.learning import REQUESTS, Trying

    if not re.fullmatch(r"[a-z0-9][a-z0-9-]{0,63}", args.id):
        raise UsageError("--id", args.id, "small letters, figures and hyphens")
    if args.may_transmit and args.port.startswith(INPUT):
        raise UsageError("--may-transmit", args.port, "none: nothing can be sent to a gauge that types")
    if args.request and not args.may_transmit:
        raise UsageError("--request", "no --may-transmit", "both: it is sent to the gauge")
    requests: tuple[str, ...] = REQUESTS
    if args.request:
        requests = tuple(_bytes_of(text) for text in args.request)
    if args.key and args.port.startswith((INPUT, USB_PLACE)):
        raise UsageError("--key", args.port, "a serial port: no other has modem lines")
    ports: list[PortSettings] | None = _apart(args)
    if args.frame is not None:
        speeds = [args.baud] if args.baud else list(dict.fromkeys(port.baud for port in settings()))
        ports = [args.frame.model_copy(update={"baud": speed}) for speed in speeds]
    elif args.baud is not None:
        frames = dict.fromkeys(port.parity for port in settings())
        ports = [SerialPort(baud=args.baud, parity=parity) for parity in frames]
    move = Fraction(args.move or (90 if args.angle else 1))
    return Trying(
        quantity="angle" if args.angle else "length",
        moves=(move, -move),
        may_transmit=args.may_transmit,
        requests=requests,
        ports=ports,
        budget_s=args.seconds,
        gauge=args.id,
        key=args.key,
    )


def _apart(args: argparse.Namespace) -> list[PortSettings] | None:
    """How a port is opened that has no speed, while nothing is known of it; None where it is a serial one."""
    from config.profile import USB_PLACE, HidPort, KeyboardPort, UsbPort
    from drivers.transports.usb import sends_reports

    is_usb = args.port.startswith(USB_PLACE)
    if args.interface is not None and not is_usb:
        raise UsageError("--interface", str(args.interface), "a place of USB, such as usb:1-2")
    if not is_usb and not args.port.startswith(INPUT):
        return None
    if args.baud or args.frame:
        raise UsageError("--baud or --frame", args.port, "none of them: only a serial port has a speed")
    if not is_usb:
        return [KeyboardPort(kind="keyboard")]
    if sends_reports(args.port):
        return [HidPort(kind="hid", interface=args.interface)]
    return [UsbPort(kind="usb", apart=True, interface=args.interface)]


def _bytes_of(text: str) -> str:
    """What was typed, with `\\r`, `\\n` and `\\x02` meaning bytes."""
    try:
        meant = text.encode("latin-1").decode("unicode_escape")
        meant.encode("latin-1")
    except UnicodeError:
        raise UsageError("--request", text, "text of single bytes, such as 'read\\r'") from None
    if not 1 <= len(meant) <= 256:
        raise UsageError("--request", text, "1 to 256 bytes")
    return meant


def _write(place: Path, found: Reading) -> None:
    from drivers.learn.written import as_toml

    heard = " | ".join(data.hex(" ").upper() for data in found.proof[:4])
    comments = (f"Learnt by ringtrue, from frames such as {heard}.", "Look at it before it is trusted.")
    fresh = place.with_name(f".{place.name}.{os.getpid()}")
    fresh.write_text(as_toml(found.profile, *comments))
    fresh.replace(place)


def _found(port: str, place: Path, found: Reading) -> str:
    from config.profile import SerialPort, WireUnit
    from ringtrue.capturing import spelled

    profile = found.profile
    how = (
        f"at {spelled(profile.port)}" if isinstance(profile.port, SerialPort) else f"from {profile.port.kind}"
    )
    scale, unit = _SHOWN[profile.value.unit.value]
    first, *later = (f"{some[-1] / scale:g} {unit}" for some in found.values[:3])
    lines = [
        f"found: {profile.value.kind} in {profile.framing.kind} frames {how}, "
        f"{profile.manner.kind}, {profile.value.unit}; {place} is written",
        f"it read {first} at the first place, and {', '.join(later)} then: do not use this profile if its "
        "display showed anything else",
        "to paste into the bay's configuration:",
        "",
        "[[gauge]]",
        'id = "indicator-1"',
        f"profile = {json.dumps(str(place))}",
        _place(port),
    ]
    if profile.value.unit in (WireUnit.MM, WireUnit.INCH):
        lines += [
            f"resolution_mm = {found.step / 1e6:g}   # the smallest step seen: hold it against its display",
            "mpe_mm = ?   # from its certificate",
        ]
    return "\n".join(lines)


def _place(port: str) -> str:
    """The line that names it: of what the kernel numbers anew each time, what it says of itself."""
    from config.profile import USB_PLACE
    from drivers.connected import connected, known_by_serial
    from ringtrue.gauges_told import place

    others = connected()
    there = os.path.realpath(port) if port.startswith(INPUT) else port
    for one in others:
        if one.device == there and there.startswith((INPUT, USB_PLACE)):
            return place(one, by_serial=known_by_serial(one, others))
    return f"port = {json.dumps(port)}"


def _heard(learnt: Learnt) -> list[str]:
    """What came, setting by setting, for whoever looks further."""
    from ringtrue.capturing import spelled

    lines = []
    for hearing in _readable(learnt):
        data = hearing.data[:SHOWN_BYTES]
        letters = "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in data)
        lines.append(f"  {spelled(hearing.port)}: {data.hex(' ')}  {letters}")
    return lines


def _readable(learnt: Learnt) -> list[Hearing]:
    """What was heard, of some settings; of a board what it typed."""
    from drivers.learn.apart import ways

    return [next(ways(hearing), hearing) for hearing in learnt.hearings[:SHOWN_SETTINGS]]


def _as_json(learnt: Learnt, found: Reading | None, place: Path) -> dict[str, Any]:
    from dataclasses import asdict, is_dataclass

    from ringtrue.capturing import spelled

    return {
        "answer": "switch" if _is_switch(learnt) else learnt.verdict.answer,
        "why": None if _is_switch(learnt) else learnt.verdict.why or None,
        "file": str(place) if found is not None else None,
        "step": found.step if found is not None else None,
        "unit": found.profile.value.unit.value if found is not None else None,
        "key": asdict(learnt.contact) if is_dataclass(learnt.contact) else learnt.contact,
        "heard": [
            {"port": spelled(hearing.port), "hex": hearing.data[:SHOWN_BYTES].hex()}
            for hearing in _readable(learnt)
        ],
    }
