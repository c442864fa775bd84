"""How an unknown gauge is listened to: settings one after another, and the same again as it is moved.

Nothing is sent unless it may be; who moves the gauge, and the line, are handed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Literal, Protocol

from config.profile import KeyPress, Manner, Requested, SerialPort
from drivers.capture import Piece
from drivers.learn.cutting import LEAST_FRAMES, cuts
from drivers.learn.heard import Hearing, Quantity, Step
from drivers.learn.judging import Verdict, judged
from drivers.learn.speeds import asking_settings, could_be, is_text, likely, settings, with_seven_bits

# How long a gauge that sends by itself may be quiet, s; and how long a request may stay unanswered.
QUIET_S, ANSWER_S = 3.0, 0.2
# How long one setting is listened to, s: as long as LEAST_FRAMES and some more take, within these.
SHORTEST_LOOK_S, LONGEST_LOOK_S = 0.6, 6.0
# Bytes that are listened to where they come one after another: some ten long lines.
LOOK_BYTES = 300
# Somebody presses a key about once a second.
PRESSED_LOOK_S = 9.0
# Seconds of a travel that are listened to with each setting.
TRAVEL_S = 4.0
# What gauges that are asked are commonly asked with; common practice, no source.
REQUESTS = ("\r", "?\r", "?", "\n", "?\r\n", "read\r")

Move = Literal["rest", "press", "in", "out", "travel", "done"]


class Line(Protocol):
    """A port of an unknown gauge."""

    def listen(self, port: SerialPort, seconds: float, request: bytes | None = None) -> Sequence[Piece]:
        """What comes on it, set so, within so long; request: sent again and again. Raises PortError."""


class Person(Protocol):
    """Who moves the gauge."""

    def asked(self, move: Move) -> None:
        """Returns once it is done, or with `travel` and `press` has begun."""

    def told(self, sentence: str) -> None:
        """Something that need not be answered."""


@dataclass(frozen=True, slots=True)
class Trying:
    """What may be done. moves: the places it is moved to, mm or degrees in from the first. ports: settings,
    None for the usual ones. budget_s: seconds of listening, all together."""

    quantity: Quantity = "length"
    moves: Sequence[Fraction] = (Fraction(1), Fraction(-1))
    may_transmit: bool = False
    requests: Sequence[str] = REQUESTS
    ports: Sequence[SerialPort] | None = None
    budget_s: float = 360.0
    gauge: str = "learnt"


@dataclass(frozen=True, slots=True)
class Learnt:
    """The answer, and all that was heard."""

    verdict: Verdict
    hearings: Sequence[Hearing]


class TimeOverError(Exception):
    """All the time that may be listened is over."""


class Learning:
    """One gauge."""

    def __init__(self, line: Line, person: Person, trying: Trying) -> None:
        self._line = line
        self._person = person
        self._trying = trying
        self._left_s = trying.budget_s
        self._request: bytes | None = None
        self._manner: Manner | None = None
        self._heard: Sequence[Hearing] = ()
        self._ports = list(settings() if trying.ports is None else trying.ports)

    def run(self) -> Learnt:
        """Listen, ask, and judge. Raises PortError where the port fails meanwhile."""
        try:
            return self._run()
        except TimeOverError:
            why = "the time is over: name its speed with --baud and --frame, or give more with --seconds"
            return Learnt(Verdict("unknown", (), why), self._heard)

    def _run(self) -> Learnt:
        trying, person = self._trying, self._person
        person.asked("rest")
        first = self._first(self._ports)
        if first is None:
            return Learnt(Verdict("unknown", (), "nothing was heard"), ())
        hearings = self._scan(first)
        if not hearings:
            return Learnt(Verdict("unknown", (), "what was heard has no frames in it at any speed"), (first,))
        moves: tuple[Move, Move] = ("in", "out")
        for move, at in zip(moves, trying.moves, strict=True):
            self._heard = hearings
            person.asked(move)
            hearings = [self._more(hearing, at) for hearing in hearings]
        same = _stood_still(hearings)
        if same:
            return Learnt(Verdict("unknown", (), same), hearings)
        verdict = self._judged(hearings)
        if verdict.answer != "found":
            person.asked("travel")
            hearings = [self._more(hearing, None) for hearing in hearings]
            verdict = self._judged(hearings)
        person.asked("done")
        return Learnt(verdict, hearings)

    def _judged(self, hearings: Sequence[Hearing]) -> Verdict:
        either = [one for hearing in hearings for one in with_seven_bits(hearing)]
        return judged(either, self._trying.quantity, self._manner, self._trying.gauge)

    def _first(self, ports: Sequence[SerialPort]) -> Hearing | None:
        """What is heard at all: of itself, when asked, or when its key is pressed."""
        heard = self._listen(ports[0], QUIET_S)
        if heard:
            return _heard(ports[0], heard)
        if self._trying.may_transmit and (answered := self._answered(ports)) is not None:
            return answered
        self._person.asked("press")
        heard = self._listen(ports[0], PRESSED_LOOK_S)
        self._manner = KeyPress(kind="key-press")
        return _heard(ports[0], heard) if heard else None

    def _answered(self, ports: Sequence[SerialPort]) -> Hearing | None:
        """What is heard when it is asked: the first answer that is text, else the first of all."""
        answers: list[tuple[SerialPort, str]] = []
        for port in asking_settings() if self._trying.ports is None else ports:
            for text in self._trying.requests:
                request = text.encode("latin-1")
                heard = _without(self._listen(port, ANSWER_S, request), request)
                if is_text(heard * 2):
                    answers.insert(0, (port, text))
                    break
                if len(heard) > 1:
                    answers.append((port, text))
            if answers and is_text(heard * 2):
                break
        if not answers:
            return None
        port, text = answers[0]
        self._request = text.encode("latin-1")
        self._manner = Requested(kind="requested", request=text, period_s=0.1, timeout_s=0.3)
        self._ports = list(dict.fromkeys(port for port, _ in answers)) if len(answers) > 1 else [port]
        return _heard(port, self._listen(port, LONGEST_LOOK_S / 2))

    def _scan(self, first: Hearing) -> list[Hearing]:
        """The settings with which it could be read; one alone where that gives text."""
        heard: list[Hearing] = []
        for port in self._ports:
            known = port == first.port and isinstance(self._manner, KeyPress)
            pieces = first.steps[0].pieces if known else self._listen(port, self._look_s(first, port))
            for hearing in with_seven_bits(_heard(port, pieces)):
                if is_text(hearing.data) and any(True for _ in cuts(hearing)):
                    return [_heard(port, pieces)]
            heard.append(_heard(port, pieces))
        speeds = likely(heard)
        return [hearing for hearing in heard if hearing.port.baud in speeds and could_be(hearing)]

    def _look_s(self, first: Hearing, port: SerialPort) -> float:
        if isinstance(self._manner, KeyPress):
            return PRESSED_LOOK_S
        pieces = [piece for step in first.steps[:1] for piece in step.pieces]
        longest_s = max((b.time_ns - a.time_ns for a, b in pairwise(pieces)), default=10**9) / 1e9
        enough_s = max(longest_s * (LEAST_FRAMES + 6), LOOK_BYTES * 10 / port.baud, SHORTEST_LOOK_S)
        return min(enough_s, LONGEST_LOOK_S)

    def _more(self, hearing: Hearing, at: Fraction | None) -> Hearing:
        seconds = self._look_s(hearing, hearing.port)
        if at is None:
            seconds = max(TRAVEL_S, seconds * 2)
        pieces = self._listen(hearing.port, seconds)
        return replace(hearing, steps=[*hearing.steps, Step(at, pieces)])

    def _listen(self, port: SerialPort, seconds: float, request: bytes | None = None) -> Sequence[Piece]:
        if self._left_s < seconds:
            raise TimeOverError
        self._left_s -= seconds
        return self._line.listen(port, seconds, self._request if request is None else request)


def _heard(port: SerialPort, pieces: Sequence[Piece]) -> Hearing:
    return Hearing(port, [Step(Fraction(0), pieces)])


def _without(pieces: Sequence[Piece], request: bytes) -> bytes:
    """What came, without what the line only sent back."""
    return b"".join(piece.data for piece in pieces).replace(request, b"")


def _stood_still(hearings: Sequence[Hearing]) -> str:
    """Why nothing can be learnt, where it did not move or went silent; empty where it moved."""
    for hearing in hearings:
        if any(not step.pieces for step in hearing.steps):
            return "the gauge went silent in between: leave it switched on, and learn it again"
    cut = [one for hearing in hearings for _, one in cuts(hearing)]
    if cut and all(set(one.data[0]) & set(some) for one in cut for some in one.data[1:]):
        return (
            "it sent the same at every place: see that its plunger moves, and that it sends one value alone"
        )
    return ""
