"""How an unknown gauge is listened to: settings one after another, and the same again as it is moved.

Nothing is sent unless it may be; who moves the gauge, and the line, are handed in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Literal, Protocol

from config.profile import KeyboardPort, KeyPress, Manner, PortSettings, Requested, SerialPort
from drivers.capture import Piece
from drivers.learn.apart import could_be, ways
from drivers.learn.contacts import Contact, Look, contact
from drivers.learn.cutting import LEAST_FRAMES, bursts, cuts
from drivers.learn.heard import Hearing, Quantity, Step
from drivers.learn.judging import Verdict, at_key, judged
from drivers.learn.speeds import (
    asking_settings,
    errors,
    has_lone_bits,
    is_text,
    likely,
    next_speed,
    settings,
    with_seven_bits,
)

# How long a gauge that sends by itself may be quiet, s; and how long a request may stay unanswered.
QUIET_S, ANSWER_S = 3.0, 0.1
# How long one setting is listened to, s: as long as LEAST_FRAMES and some more take, within these.
SHORTEST_LOOK_S, LONGEST_LOOK_S = 0.6, 6.0
# Bytes that are listened to where they come one after another: some ten long lines; and those of an answer
# that show it.
LOOK_BYTES, ANSWER_BYTES = 300, 8
# Until the right speed is known so many bursts are listened to at each: of a press there is one.
FEW, ONE = 3, 1
# Two frames whose share of errors differs by no more are both tried.
EQUAL = 0.1
# A pause that parts two bursts, s, and so many bytes more: a reader finds some at once, and the rest later.
PAUSE_S, PAUSE_BYTES = 0.03, 15
# The same of one that types, key after key; its first line may be cut, so that one more is listened to.
TYPING_PAUSE_S, ONE_MORE = 0.15, 1
# Somebody presses a key about once a second: how long one is waited for, s; how often, at first; how many are
# listened to at each place, and how many in a travel, and in one with more settings than two.
PRESS_S, TRIES = 2.5, 6
PRESSES, PRESSES_OF_TRAVEL, FEWER_PRESSES = 3, 15, 12
# How often a key across a modem line is pressed, for how long it is waited for, and how long it must be quiet
# then, s.
KEY_PRESSES, KEY_S, KEY_QUIET_S = 5, 20.0, 1.5
# Frames of a gauge that sends by itself: at a place, and in each half of a travel; with several settings.
FRAMES, FRAMES_OF_TRAVEL = LEAST_FRAMES + 2, LEAST_FRAMES + 6
FEWER_FRAMES, FEWER_OF_TRAVEL = LEAST_FRAMES - 1, LEAST_FRAMES + 2
# Seconds of a travel that are listened to with each setting.
TRAVEL_S = 4.0
# What gauges that are asked are commonly asked with; common practice, no source.
REQUESTS = ("\r", "?\r", "?", "\n", "?\r\n", "read\r")

NOTHING = "nothing was heard: see that it is switched on; where only a modem line tells its key, add --key"

Enough = Callable[[Sequence[Piece], float], bool]
"""Whether what came by so many seconds is enough."""
Watched = Callable[[Sequence[Look]], bool]
"""Whether what was seen of the lines so far is enough."""
Move = Literal["rest", "press", "in", "out", "travel", "key", "done"]


class Line(Protocol):
    """A port of an unknown gauge; of a board the kernel's records come, of USB whole packets."""

    def listen(
        self, port: PortSettings, seconds: float, request: bytes | None = None, enough: Enough | None = None
    ) -> Sequence[Piece]:
        """What comes on it, set so, within so long, or until it is enough; request: sent again and again.
        Raises PortError."""

    def watch(self, port: PortSettings, seconds: float, enough: Watched) -> Sequence[Look]:
        """Its modem lines, again and again, for so long or until it is enough. Raises PortError where it has
        none."""


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
    ports: Sequence[PortSettings] | None = None
    budget_s: float = 360.0
    gauge: str = "learnt"
    key: bool = False
    """Its key is across a modem line, which is to be learnt."""


@dataclass(frozen=True, slots=True)
class Learnt:
    """The answer, and all that was heard. contact: the key across a modem line, or why none was found; None
    where it was not asked for."""

    verdict: Verdict
    hearings: Sequence[Hearing]
    contact: Contact | str | None = None


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
        self._frames, self._presses = (FRAMES, FRAMES_OF_TRAVEL), PRESSES_OF_TRAVEL
        ports = list(settings() if trying.ports is None else trying.ports)
        self._ports = [port for port in ports if isinstance(port, SerialPort)]
        self._apart = next((port for port in ports if not isinstance(port, SerialPort)), None)
        """A port that has no speed, of which there is one alone."""

    @property
    def _by_key(self) -> bool:
        return isinstance(self._manner, KeyPress)

    def run(self) -> Learnt:
        """Listen, ask, and judge. Raises PortError where the port fails meanwhile."""
        try:
            learnt = self._run()
        except TimeOverError:
            why = "the time is over: name its speed with --baud and --frame, or give more with --seconds"
            learnt = Learnt(Verdict("unknown", (), why), self._heard)
        if self._trying.key:
            learnt = self._with_key(learnt)
        self._person.asked("done")
        return learnt

    def _with_key(self, learnt: Learnt) -> Learnt:
        """The same with the key that it has; what is found of a gauge is read at its key then."""
        found = learnt.verdict.readings[0] if learnt.verdict.answer == "found" else None
        self._person.asked("key")
        port = self._ports[0] if found is None else found.profile.port
        known = contact(self._line.watch(port, KEY_S, _pressed_through), KEY_PRESSES)
        if isinstance(known, str) or found is None:
            return replace(learnt, contact=known)
        verdict = Verdict("found", [replace(found, profile=at_key(found.profile, known))])
        return replace(learnt, verdict=verdict, contact=known)

    def _run(self) -> Learnt:
        trying, person = self._trying, self._person
        person.asked("rest")
        first = self._first(self._apart or self._ports[0])
        if first is None:
            return Learnt(Verdict("unknown", (), NOTHING), ())
        ports: Sequence[PortSettings] = self._likely_ports(first) if self._apart is None else [self._apart]
        if len(ports) > 1:
            self._frames = FEWER_FRAMES, FEWER_OF_TRAVEL
        if len(ports) > 2:
            self._presses = FEWER_PRESSES
        hearings = [_heard(port, self._look(port, first)) for port in ports]
        self._heard = hearings
        moves: tuple[Move, Move] = ("in", "out")
        for move, at in zip(moves, trying.moves, strict=True):
            person.asked(move)
            hearings = self._heard = [self._more(hearing, at) for hearing in hearings]
        if same := _stood_still(hearings):
            return Learnt(Verdict("unknown", (), same), hearings)
        verdict = self._judged(hearings)
        if verdict.answer != "found":
            person.asked("travel")
            sound = [hearing for hearing in hearings if could_be(hearing)] or hearings
            hearings = [self._more(hearing, None) for hearing in sound]
            verdict = self._judged(hearings)
            if not any(map(could_be, hearings)):
                verdict = Verdict("unknown", (), "what was heard has no frames in it at any speed")
        return Learnt(verdict, hearings)

    def _judged(self, hearings: Sequence[Hearing]) -> Verdict:
        either = [one for hearing in hearings for one in ways(hearing)]
        return judged(either, self._trying.quantity, self._manner, self._trying.gauge)

    def _first(self, port: PortSettings) -> Hearing | None:
        """What is heard at all: of itself, when asked, or when its key is pressed."""
        heard = self._listen(port, QUIET_S, enough=_bursts(FEW, port))
        if heard:
            return _heard(port, heard)
        if self._trying.may_transmit and not isinstance(port, KeyboardPort):
            answered = self._answered() if self._apart is None else self._replied(self._apart)
            if answered is not None:
                return answered
        if self._trying.key:
            return None
        self._person.asked("press")
        self._manner = KeyPress(kind="key-press")
        for _ in range(TRIES):  # while they find the key
            heard = self._listen(port, PRESS_S, enough=_bursts(ONE, port))
            if heard:
                return _heard(port, heard)
        self._manner = None
        return None

    def _replied(self, port: PortSettings) -> Hearing | None:
        """What is heard when it is asked on a port that has no speed."""
        for text in self._trying.requests:
            if self._listen(port, ANSWER_S, text.encode("latin-1")):
                self._asks(text)
                return _heard(port, self._listen(port, LONGEST_LOOK_S / 2, enough=_bursts(FEW, port)))
        return None

    def _asks(self, text: str) -> None:
        self._request = text.encode("latin-1")
        self._manner = Requested(kind="requested", request=text, period_s=0.1, timeout_s=0.3)

    def _answered(self) -> Hearing | None:
        """What is heard when it is asked: the first answer that is text, else the first of all. Where it has
        answered it is asked in no further frame."""
        answers: list[tuple[SerialPort, str]] = []
        asked = list(asking_settings()) if self._trying.ports is None else self._ports
        for before, port in zip([None, *asked], asked, strict=False):
            if answers and before is not None and _frame(before) != _frame(port):
                break
            for text in self._trying.requests:
                request = text.encode("latin-1")
                answer_s = ANSWER_S + ANSWER_BYTES * 10 / port.baud
                heard = _without(self._listen(port, answer_s, request), request)
                if is_text(heard * 2):
                    answers = [(port, text)]
                    break
                if len(heard) > 1:
                    answers.append((port, text))
            if answers and is_text(heard * 2):
                break
        if not answers:
            return None
        port, text = answers[0]
        self._asks(text)
        if port.parity == "none":  # a gauge that does not look at parity answers all the same
            speeds = {port.baud for port, _ in answers}
            self._ports = [port for port in self._ports if port.baud in speeds]
        else:
            self._ports = list(dict.fromkeys(port for port, _ in answers))
        return _heard(port, self._listen(port, LONGEST_LOOK_S / 2, enough=_bursts(FEW, port)))

    def _likely_ports(self, first: Hearing) -> list[SerialPort]:
        """The settings with which it could be read; one alone where that gives text."""
        speeds = list(dict.fromkeys(port.baud for port in self._ports))
        told: dict[int, bool] = {}
        wrong: dict[SerialPort, float] = {}
        while (baud := next_speed(told, speeds)) is not None:
            for port in (port for port in self._ports if port.baud == baud):
                pieces = first.steps[0].pieces if port == first.port else self._few(port)
                for hearing in with_seven_bits(_heard(port, pieces)):
                    if is_text(hearing.data * (2 if self._by_key else 1)):
                        return [port]
                heard = bursts(pieces, _pause_s(port))
                told[baud] = told.get(baud, False) or has_lone_bits(heard)
                wrong[port] = errors(heard)
                if not wrong[port]:
                    break
        likeliest = likely(told)
        least = {baud: min(wrong[port] for port in wrong if port.baud == baud) for baud in likeliest}
        return [port for port in wrong if port.baud in least and wrong[port] <= least[port.baud] + EQUAL]

    def _few(self, port: SerialPort) -> Sequence[Piece]:
        """Enough to tell its speed by."""
        if self._by_key:
            return self._listen(port, PRESS_S, enough=_bursts(ONE, port))
        return self._listen(port, QUIET_S, enough=_bursts(FEW, port))

    def _look(self, port: PortSettings, before: Hearing) -> Sequence[Piece]:
        """As much as a place is judged by. before: what was heard of it at any setting."""
        if self._by_key:
            return self._pressed(port, PRESSES)
        return self._listen(port, self._look_s(before, port, self._frames[0]))

    def _pressed(self, port: PortSettings, times: int) -> Sequence[Piece]:
        times += ONE_MORE if isinstance(port, KeyboardPort) else 0
        return self._listen(port, PRESS_S * times, enough=_bursts(times, port))

    def _look_s(self, before: Hearing, port: PortSettings, frames: int) -> float:
        pieces = [piece for step in before.steps[:1] for piece in step.pieces]
        longest_s = max((b.time_ns - a.time_ns for a, b in pairwise(pieces)), default=10**9) / 1e9
        bytes_s = LOOK_BYTES * 10 / port.baud if isinstance(port, SerialPort) else 0.0
        enough_s = max(longest_s * frames, bytes_s, SHORTEST_LOOK_S)
        return min(enough_s, LONGEST_LOOK_S)

    def _more(self, hearing: Hearing, at: Fraction | None) -> Hearing:
        if at is not None:
            pieces = self._look(hearing.port, hearing)
        elif self._by_key:
            pieces = self._pressed(hearing.port, self._presses)
        else:
            pieces = self._listen(
                hearing.port, max(TRAVEL_S, 2 * self._look_s(hearing, hearing.port, self._frames[1]))
            )
        return replace(hearing, steps=[*hearing.steps, Step(at, pieces)])

    def _listen(
        self, port: PortSettings, seconds: float, request: bytes | None = None, enough: Enough | None = None
    ) -> Sequence[Piece]:
        if self._left_s < seconds:
            raise TimeOverError
        ended_s = seconds

        def is_enough(pieces: Sequence[Piece], now_s: float) -> bool:
            nonlocal ended_s
            over = enough is not None and enough(pieces, now_s)
            ended_s = now_s if over else seconds
            return over

        asked = self._request if request is None else request
        pieces = self._line.listen(port, seconds, asked, is_enough)
        self._left_s -= min(ended_s, seconds)
        return pieces


def _pressed_through(looks: Sequence[Look]) -> bool:
    """Its key was pressed so often, and has been let go for a while."""
    now_s, levels = looks[-1].time_s, looks[-1].levels
    for look in reversed(looks):
        if look.levels != levels:
            return False
        if now_s - look.time_s >= KEY_QUIET_S:
            break
    else:
        return False
    return not isinstance(contact(looks, KEY_PRESSES), str)


def _bursts(number: int, port: PortSettings) -> Enough:
    """So many bursts came whole; or as many bytes as are enough where they come without a pause."""
    pause_s = _pause_s(port)

    def enough(pieces: Sequence[Piece], now_s: float) -> bool:
        if not pieces:
            return False
        begun = len(bursts(pieces, pause_s))
        ended = now_s - pieces[-1].time_ns / 1e9 > pause_s
        size = 0 if isinstance(port, KeyboardPort) else sum(len(piece.data) for piece in pieces)
        return begun - (not ended) >= number or size >= LOOK_BYTES

    return enough


def _pause_s(port: PortSettings) -> float:
    if isinstance(port, KeyboardPort):
        return TYPING_PAUSE_S
    if not isinstance(port, SerialPort):
        return PAUSE_S
    return PAUSE_S + PAUSE_BYTES * 10 / port.baud


def _frame(port: SerialPort) -> tuple[int, str]:
    return port.bytesize, port.parity


def _heard(port: PortSettings, pieces: Sequence[Piece]) -> Hearing:
    return Hearing(port, [Step(Fraction(0), pieces)])


def _without(pieces: Sequence[Piece], request: bytes) -> bytes:
    """What came, without what the line only sent back."""
    return b"".join(piece.data for piece in pieces).replace(request, b"")


def _stood_still(hearings: Sequence[Hearing]) -> str:
    """Why nothing can be learnt, where it did not move or went silent; empty where it moved."""
    if all(any(not step.pieces for step in hearing.steps) for hearing in hearings):
        return "the gauge went silent in between: leave it switched on, and learn it again"
    cut = [one for hearing in hearings for way in ways(hearing) for _, one in cuts(way)]
    if cut and all(set(one.data[0]) & set(some) for one in cut for some in one.data[1:]):
        return (
            "it sent the same at every place: see that its plunger moves, and that it sends one value alone"
        )
    return ""
