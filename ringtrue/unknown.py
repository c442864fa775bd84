"""The line of an unknown gauge, and whoever moves it at the terminal."""

from __future__ import annotations

import contextlib
import os
import select
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from typing import Self

from config.profile import PortSettings
from drivers.capture import Piece
from drivers.contacts import LOOK_S
from drivers.errors import PortError
from drivers.learn.contacts import LINES, Look
from drivers.learn.heard import Quantity
from drivers.learn.speeds import ERROR
from drivers.transports import READ_TIMEOUT_S, OpenPort, close_port, open_port
from drivers.transports.marks import ErrorMarks, mark_errors
from drivers.transports.usb import UsbReadings
from ringtrue.learning import Enough, Move, Watched

# How often a request is repeated, s.
ASK_EVERY_S = 0.1
# How long a port is emptied that fills again at once, s; and how much is read of a board at once.
EMPTIED_S, READ_BYTES = 0.1, 4_096
# After how long lines that stand are looked at once more, s.
SAME_S = 0.02


class UnknownLine:
    """A port, which stays open as long as it is listened to with the same settings: some gauges live on its
    lines. A context."""

    def __init__(self, name: str, opener: Callable[[str, PortSettings], OpenPort] = open_port) -> None:
        self._name = name
        self._opener = opener
        self._port: OpenPort | None = None
        self._set: PortSettings | None = None
        self._marks: ErrorMarks | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._close()

    def listen(
        self, port: PortSettings, seconds: float, request: bytes | None = None, enough: Enough | None = None
    ) -> list[Piece]:
        """What comes on it, set so, within so long, or until it is enough; request: sent again and again.
        Raises PortError."""
        try:
            return self._heard(self._opened(port), seconds, request, enough)
        except OSError as error:
            raise PortError(f"{self._name} went away ({error}): plug it in, and learn it again") from error

    def watch(self, port: PortSettings, seconds: float, enough: Watched) -> list[Look]:
        """Its modem lines, again and again, for so long or until it is enough. Raises PortError where it has
        none."""
        opened = self._opened(port)
        if not all(hasattr(type(opened), line) for line in LINES):
            raise PortError(f"{self._name} has no modem lines: a key across one needs a serial port")
        began_s = now_s = time.monotonic()
        looks: list[Look] = []
        try:
            while now_s - began_s < seconds:
                levels = tuple(bool(getattr(opened, line)) for line in LINES)
                now_s = time.monotonic()
                # Of looks that are alike the first tells all, and one every so often that time goes on.
                if not looks or looks[-1].levels != levels or now_s - began_s - looks[-1].time_s >= SAME_S:
                    looks.append(Look(now_s - began_s, levels))
                    if enough(looks):
                        break
                if waiting := opened.in_waiting:  # what is not read fills it up
                    opened.read(waiting)
                time.sleep(LOOK_S)
        except OSError as error:
            why = f"{self._name} went away or has no modem lines ({error.strerror or error})"
            raise PortError(f"{why}: a key across one needs a serial port") from error
        return looks

    def _heard(
        self, port: OpenPort, seconds: float, request: bytes | None, enough: Enough | None
    ) -> list[Piece]:
        _emptied(port)
        began_ns = now_ns = time.monotonic_ns()
        until_ns, ask_ns = began_ns + round(seconds * 1e9), began_ns
        pieces: list[Piece] = []
        while now_ns < until_ns:
            if request is not None and now_ns >= ask_ns:
                port.write(request)
                ask_ns = now_ns + round(ASK_EVERY_S * 1e9)
            data = self._with_errors(_read(port))
            before_ns, now_ns = now_ns, time.monotonic_ns()
            if data:
                pieces.append(Piece(now_ns - began_ns, data, now_ns - before_ns))
            if enough is not None and enough(pieces, (now_ns - began_ns) / 1e9):
                break
        return pieces

    def _with_errors(self, data: bytes) -> bytes:
        """What came, a byte that came wrong as ERROR."""
        if self._marks is None or not data:
            return data
        return b"".join(ERROR * wrong + good for wrong, good in self._marks.taken(data))

    def _opened(self, settings: PortSettings) -> OpenPort:
        if self._port is None or self._set != settings:
            self._close()
            self._port, self._set = self._opener(self._name, settings), settings
            self._marks = mark_errors(self._port, settings)
        return self._port

    def _close(self) -> None:
        if self._port is not None:
            with contextlib.suppress(OSError):
                close_port(self._port)
        self._port = None


def _emptied(port: OpenPort) -> None:
    """Without what came while nobody listened: what a device kept until it was asked for it, too."""
    until_s = time.monotonic() + EMPTIED_S
    while _holds(port) and _read(port) and time.monotonic() < until_s:
        pass


def _holds(port: OpenPort) -> bool:
    """Whether it may hold something; of USB only reading tells."""
    if isinstance(port, UsbReadings):
        return True
    return _is_ready(port, 0.0) if _gives_records(port) else bool(port.in_waiting)


def _read(port: OpenPort) -> bytes:
    """What has come: of a board the kernel's own records."""
    if not _gives_records(port):
        return port.read(max(1, port.in_waiting))
    return os.read(port.fileno(), READ_BYTES) if _is_ready(port, READ_TIMEOUT_S) else b""


def _gives_records(port: OpenPort) -> bool:
    return hasattr(port, "told")


def _is_ready(port: OpenPort, for_s: float) -> bool:
    return bool(select.select([port.fileno()], [], [], for_s)[0])


class Hands:
    """A person at a terminal. move: how far the gauge is moved, mm or degrees."""

    def __init__(self, quantity: Quantity, move: Fraction) -> None:
        self._words = dict(_ANGLE if quantity == "angle" else _LENGTH)
        self._sizes = {"one": f"{float(move):g}", "two": f"{float(2 * move):g}"}

    def asked(self, move: Move) -> None:
        """Says what to do, and waits for Enter. Raises EOFError where nobody can answer."""
        if move == "press" and self._words["travel"] == _LENGTH["travel"]:
            self._words["travel"] = _BY_KEY
        if move == "done":
            self.told("That is all: it may be moved as you like.")
            return
        print(
            f"{self._words[move].format(**self._sizes)} Then press Enter: ",
            end="",
            file=sys.stderr,
            flush=True,
        )
        if not sys.stdin.readline():
            raise EOFError
        self.told("Listening …")

    def told(self, sentence: str) -> None:
        """Says it."""
        print(sentence, file=sys.stderr, flush=True)


_BY_KEY = "Move it slowly, once from one end to the other while you press twelve times, and back again."
_LENGTH: dict[Move, str] = {
    "rest": "Set the gauge on a {one} mm block, zero it if it can be zeroed, and let it stand still.",
    "key": "Press its key five times, about once a second, and let it go each time; begin after Enter.",
    "press": "Nothing came of itself. If it has a key that sends, press it once a second until the end.",
    "in": "Put {two} mm in place of the {one} mm, so that the plunger is {one} mm further in.",
    "out": "Take the blocks away, so that the plunger is {one} mm further out than at first.",
    "travel": "Move the plunger slowly through its travel, in and out again, and go on doing so.",
}
_ANGLE: dict[Move, str] = {
    "rest": "Let it stand still at a mark.",
    "press": _LENGTH["press"],
    "key": _LENGTH["key"],
    "in": "Turn it by {one} degrees in the running direction.",
    "out": "Turn it back, to {one} degrees on the other side of the first mark.",
    "travel": "Turn it slowly, there and back, and go on doing so.",
}
