"""An unknown gauge on a line, and somebody who moves it, as `ringtrue.learning` is handed them."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from config.profile import (
    FreeRunning,
    GaugeProfile,
    KeyboardPort,
    KeyPress,
    PortSettings,
    SerialPort,
    WireUnit,
)
from contract.units import NM_PER_MM, UDEG_PER_DEG
from drivers.capture import Piece
from drivers.encoding import Encoder
from drivers.errors import EncodeError
from drivers.framings import framer
from drivers.learn.contacts import Look
from drivers.values import codec
from ringtrue.learning import Enough, Move, Watched
from simulators.wire import received
from tests.drivers.learn.arriving import KEY_NS, unheard
from tests.drivers.learn.keys import Key

TURN_UDEG = 360 * UDEG_PER_DEG
STEP_NM = 1_000
# How often a line looks up.
LOOK_UP_S = 0.02


@dataclass
class Unknown:
    """The gauge. offset: what it shows at the first place. off: what the blocks and hands do, mm or degrees.
    noise: steps of its display, standard deviation. travel: how far it is moved at the end, either way.
    counter: which byte of its data counts its frames, to below counts_to. key: across a modem line."""

    kind: GaugeProfile
    rng: random.Random
    period_s: float = 0.1
    offset: int = 0
    off: float = 0.01
    noise: float = 0.5
    step: int = STEP_NM
    travel: float = 12.3
    garbage: bool = True
    counts_per_turn: int = 14_400
    goes_off_at: Move | None = None
    stuck: bool = False
    counter: int | None = None
    counts_to: int = 256
    key: Key | None = None
    moves: list[Move] = field(default_factory=list)
    asked_with: set[bytes] = field(default_factory=set)
    listened_s: float = 0.0

    def __post_init__(self) -> None:
        self._encoder = Encoder(self.kind)
        self._write, self._wrap = codec(self.kind.value, "").write, framer(self.kind.framing).wrap
        self._count = self.rng.randrange(self.counts_to)
        self._place: float | None = 0.0
        self._pressing = self._is_off = False

    def asked(self, move: Move) -> None:
        """As a person does it."""
        self.moves.append(move)
        one = 1.0 if self.unit in (WireUnit.MM, WireUnit.INCH) else 90.0
        self._pressing = self._pressing or move == "press"
        self._is_off = self._is_off or move == self.goes_off_at
        if not self.stuck and move in ("in", "out", "travel"):
            at = {"in": one, "out": -one, "travel": None}[move]
            self._place = None if at is None else at + self.rng.uniform(-self.off, self.off) * one

    def told(self, sentence: str) -> None:
        """Heard."""

    @property
    def unit(self) -> WireUnit:
        return self.kind.value.unit

    def listen(
        self, port: PortSettings, seconds: float, request: bytes | None = None, enough: Enough | None = None
    ) -> list[Piece]:
        """As a line does it."""
        pieces = self._heard(port, seconds, request)
        for number in range(1, round(seconds / LOOK_UP_S)):
            now_s = number * LOOK_UP_S
            some = [piece for piece in pieces if piece.time_ns <= now_s * 1e9]
            if enough is not None and enough(some, now_s):
                self.listened_s += now_s
                return some
        self.listened_s += seconds
        return pieces

    def watch(self, port: PortSettings, seconds: float, enough: Watched) -> Sequence[Look]:
        """As a line does it."""
        looks: list[Look] = []
        for look in self.key.looks(self.rng, seconds) if self.key is not None else ():
            if looks and looks[-1].levels == look.levels and look.time_s - looks[-1].time_s < LOOK_UP_S:
                continue
            looks.append(look)
            if enough(looks):
                break
        self.listened_s += looks[-1].time_s if looks else seconds
        return looks

    def _heard(self, port: PortSettings, seconds: float, request: bytes | None) -> list[Piece]:
        if request is not None:
            self.asked_with.add(request)
        if self._is_off:
            return []
        pieces: list[Piece] = []
        at_s, first = self.rng.uniform(0.0, self._gap_s()), True
        if self.kind.manner.request_bytes is not None:
            at_s = 0.02
        for number in range(10_000):
            if at_s >= seconds or not self._sends(port, request):
                break
            frame = self._frame(at_s)
            if first and isinstance(self.kind.manner, FreeRunning) and not self.kind.port.apart:
                frame = self._noise() + frame[self.rng.randrange(len(frame)) :]
            first = False
            came = unheard(frame, self.kind.port, port, self.rng)
            for piece in self._split(came, round(at_s * 1e9)):
                if not pieces or piece.time_ns >= pieces[-1].time_ns:
                    pieces.append(piece)
            at_s += self._gap_s()
            assert number < 9_999
        return pieces

    def _sends(self, port: PortSettings, request: bytes | None) -> bool:
        manner = self.kind.manner
        if manner.request_bytes is not None:
            if isinstance(self.kind.port, SerialPort):
                assert isinstance(port, SerialPort)
                request = bytes(byte for _, byte in received(request or b"", port, self.kind.port))
            return manner.request_bytes in (request or b"")
        return self._pressing or not isinstance(manner, KeyPress)

    def _gap_s(self) -> float:
        if isinstance(self.kind.manner, KeyPress):
            return self.rng.uniform(0.5, 1.1)
        port, size = self.kind.port, len(self._encoder.frame(self.shown(0.0)))
        on_line_s = 12 * size / port.baud if isinstance(port, SerialPort) else 0.0
        if isinstance(port, KeyboardPort):
            on_line_s = size * KEY_NS / 1e9
        return max(self.period_s, 1.3 * on_line_s + 0.01) * self.rng.uniform(0.95, 1.05)

    def _noise(self) -> bytes:
        return self.rng.randbytes(self.rng.randint(0, 12)) if self.garbage else b""

    def _frame(self, at_s: float) -> bytes:
        value = self.shown(self._place if self._place is not None else self._travelled(at_s))
        try:
            data = self._write(value)
        except EncodeError:
            data = self._write(0)
        if self.counter is not None:
            self._count = (self._count + 1) % self.counts_to
            data = data[: self.counter] + bytes([data[self.counter] | self._count]) + data[self.counter + 1 :]
        return self._wrap(data)

    def _travelled(self, at_s: float) -> float:
        """There and back, 4 s each way and again; where its key is pressed slowly, once through."""
        if self._pressing:
            return (2.0 * min(at_s / 10.0, 1.0) - 1.0) * (self.travel if self.travel < 100 else 100.0)
        phase = (at_s / 4.0 + self.rng.uniform(0.0, 0.002)) % 2.0
        share = phase if phase <= 1.0 else 2.0 - phase
        return (2.0 * share - 1.0) * (self.travel if self.travel < 100 else 100.0)

    def shown(self, place: float) -> int:
        """What its display shows there, in the whole unit of its readings."""
        per = {WireUnit.DEG: UDEG_PER_DEG, WireUnit.COUNT: self.counts_per_turn / 360}.get(
            self.unit, NM_PER_MM
        )
        felt = self.offset + place * per + self.rng.gauss(0.0, self.noise) * self.step
        value = round(felt / self.step) * self.step
        return value % TURN_UDEG if self.unit is WireUnit.DEG else value

    def _split(self, got: Sequence[tuple[int, bytes]], start_ns: int) -> Iterator[Piece]:
        """As a reader finds them: what came since its last look."""
        rest, last_ns = b"", 0
        for at_ns, came in got:
            rest, last_ns = rest + came, start_ns + at_ns
            if self.rng.random() < 0.2:
                yield Piece(last_ns, rest, 1_000_000)
                rest = b""
        if rest:
            yield Piece(last_ns, rest, 1_000_000)
