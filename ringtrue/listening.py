"""What is plugged in, listened to all at once: nothing is sent."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from config.files import shipped, shipped_names
from config.profile import GaugeProfile, HidPort, KeyboardPort, SerialPort, UsbPort
from config.settings import GaugeSettings, Settings
from config.toml import read_toml
from drivers.connected import Connected, known_by_serial
from drivers.errors import PortError
from drivers.finding import is_meant
from drivers.learn.apart import as_set
from drivers.learn.heard import Hearing, Step
from drivers.packets import END
from drivers.transports.hidraw import open_hidraw
from drivers.transports.keyboard import open_keyboard
from ringtrue.guessing import Fit, fits
from ringtrue.unknown import UnknownLine

BOARD = KeyboardPort(kind="keyboard")
RAW: dict[str, KeyboardPort | HidPort | UsbPort] = {
    "keyboard": BOARD,
    "hid": HidPort(kind="hid"),
    "usb": UsbPort(kind="usb", apart=True),
}
"""How each kind of port is opened while nothing is known of it."""


@dataclass(frozen=True, slots=True)
class Listened:
    """One port and what came on it. by_serial: whether its serial number alone tells it apart. gauge: which
    of the bay's it is. heard: bytes that came, which of a board nobody is told; is_listened: it was opened
    for that. trouble: why it could not be."""

    connected: Connected
    by_serial: bool
    gauge: str | None = None
    fits: Sequence[Fit] = ()
    heard: bytes | None = None
    trouble: str | None = None
    is_listened: bool = False


def line_to(one: Connected) -> UnknownLine | None:
    """How it is listened to, so that nobody who has it loses anything; None where that cannot be.

    A board is not taken, and of a HID the kernel's copies are read; endpoints are nobody's while no driver
    has them.
    """
    if one.kind == "keyboard":
        return UnknownLine(one.device, lambda name, _: open_keyboard(name, BOARD, _leave))
    if one.kind == "hid":
        beside = one.beside
        return None if beside is None else UnknownLine(beside, lambda name, _: open_hidraw(name))
    return UnknownLine(one.device)


def _leave(_: int) -> None:
    """A board goes on typing into whatever else there is."""


Lines = Callable[[Connected], UnknownLine | None]


def listened(
    found: Sequence[Connected], settings: Settings | None, for_s: float, lines: Lines = line_to
) -> list[Listened]:
    """Each of them, for so long; 0: none is opened."""
    gauges = settings.gauge if settings is not None else ()
    profiles = [*_shipped(), *_own(gauges)]

    def listen(one: Connected) -> Listened:
        by_serial = known_by_serial(one, found)
        gauge = next((gauge.id for gauge in gauges if is_meant(gauge, one)), None)
        line = None if one.is_taken or for_s <= 0 else lines(one)
        if line is None:
            return Listened(one, by_serial, gauge)
        try:
            with line:
                fitting, heard = (_tried if one.kind == "serial" else _looked_at)(line, one, profiles, for_s)
        except PortError as error:
            return Listened(one, by_serial, gauge, trouble=str(error))
        return Listened(one, by_serial, gauge, fitting, heard, is_listened=True)

    with ThreadPoolExecutor(max(len(found), 1)) as threads:
        return list(threads.map(listen, found))


Profiles = Sequence[tuple[str, GaugeProfile]]


def _tried(line: UnknownLine, _: Connected, profiles: Profiles, for_s: float) -> tuple[list[Fit], bytes]:
    """A serial port, at each setting that a profile has, until one reads what comes."""
    heard = b""
    for port in dict.fromkeys(p.port for _, p in profiles if isinstance(p.port, SerialPort)):
        pieces = line.listen(port, for_s)
        heard = heard or b"".join(piece.data for piece in pieces)
        fitting = fits(pieces, port, profiles)
        if fitting:
            return fitting, heard
    return [], heard


def _looked_at(
    line: UnknownLine, one: Connected, profiles: Profiles, for_s: float
) -> tuple[list[Fit], bytes | None]:
    """One that has no speed, heard once. What is typed on a board that is no gauge is nobody's affair."""
    raw = RAW[one.kind]
    pieces = line.listen(raw, for_s)
    hearing = Hearing(raw, [Step(None, pieces)])
    fitting: list[Fit] = []
    for port in dict.fromkeys(p.port for _, p in profiles if p.port.kind == one.kind):
        (step,) = as_set(hearing, port).steps
        fitting += fits(step.pieces, port, profiles)
    heard = b"".join(piece.data.strip(END) for piece in pieces)
    return fitting, None if one.kind == "keyboard" else heard


def _shipped() -> Iterable[tuple[str, GaugeProfile]]:
    return [(name, read_toml(shipped("gauges", name), GaugeProfile)) for name in shipped_names("gauges")]


def _own(gauges: Iterable[GaugeSettings]) -> Iterable[tuple[str, GaugeProfile]]:
    """Those of the bay that do not ship."""
    ours = {str(shipped("gauges", name)) for name in shipped_names("gauges")}
    files = dict.fromkeys(gauge.profile for gauge in gauges if gauge.profile not in ours)
    return [(file, read_toml(Path(file), GaugeProfile)) for file in files]
