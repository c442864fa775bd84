"""Found, ambiguous or unknown: what explains everything that was heard, and whether it alone does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import gcd
from statistics import median
from typing import Literal

from pydantic import ValidationError

from config.profile import (
    CheckedFraming,
    Framing,
    FreeRunning,
    GaugeProfile,
    KeyboardPort,
    KeyPress,
    LineKey,
    Manner,
    PacketFraming,
    PatternValue,
    PortSettings,
    Requested,
    SerialPort,
    Value,
)
from drivers.encoding import Encoder
from drivers.errors import EncodeError, FrameError
from drivers.framings import framer
from drivers.learn.contacts import Contact
from drivers.learn.cutting import cuts
from drivers.learn.digits import digits
from drivers.learn.heard import Cut, Hearing, Quantity
from drivers.learn.integers import integers
from drivers.learn.texts import texts
from drivers.values import codec
from drivers.values.base import WHOLE

# Frames that may be strange at the beginning of a step: it may begin within one, with garbage before.
BEFORE = 4
# Two ways of reading are held against each other by so many values, up to ten times what was seen.
BEYOND, COMPARED = 10, 400
# Each after a pause longer than any within a frame.
APART_NS = 10**10
# What takes one digit for another leaps: so many times as rough as the smoothest, it is wrong.
ROUGHER = 3
# Different readings from which a step is told.
ENOUGH = 12
# Frames of proof that are written down for each step.
PROVEN = 3
# What typing one key takes, s, down and up again, 8 ms each as a rule; how often a host asks for a report:
# uniform in between.
KEY_S, POLLED_S = 0.016, 0.008
# A free-running gauge's period may be so much longer than it mostly was.
LONGEST_PERIOD, SHORTEST_PERIOD_S = 2.0, 0.1
# After so many of them the frame that a press meant has not come.
PERIODS_MISSED = 3


@dataclass(frozen=True, slots=True)
class Reading:
    """One way of reading what was heard. values: of each step. proof: frames as they came."""

    profile: GaugeProfile
    values: Sequence[Sequence[int]]
    proof: Sequence[bytes]
    moved: bool
    """Whether a travel is among the steps."""
    roughness: int
    """By how much it went faster or slower from reading to reading of its travel, all together."""

    @property
    def step(self) -> int:
        """One step of the display, in the whole unit: of which all its changes are multiples; where few were
        seen, of its last digit."""
        every = sorted({value for some in self.values for value in some})
        if len(every) >= ENOUGH:
            return gcd(*(b - a for a, b in pairwise(every)))
        value = self.profile.value
        return int(WHOLE[value.unit][1] * abs(value.scale) / 10**value.shown_decimals)


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer. why: what is not known and what would tell it, empty where it was found."""

    answer: Literal["found", "ambiguous", "unknown"]
    readings: Sequence[Reading]
    why: str = ""


def judged(hearings: Sequence[Hearing], quantity: Quantity, manner: Manner | None, gauge: str) -> Verdict:
    """What of all that was heard can be made out. manner: None for one that sends by itself."""
    readings: list[Reading] = []
    for hearing in hearings:
        for framing, cut in cuts(hearing):
            for value in _values(framing, cut, hearing, quantity):
                reading = _reading(hearing, framing, value, manner, gauge)
                if reading is not None and not any(_alike(reading, other) for other in readings):
                    readings.append(reading)
        # Text at another speed is no text, and what comes in packets is none of a stream; but keys of another
        # layout are text as well.
        is_text = bool(readings) and isinstance(readings[0].profile.value, PatternValue)
        if readings and (is_text or hearing.port.apart) and not isinstance(hearing.port, KeyboardPort):
            break
    smoothest = min((one.roughness for one in readings), default=0)
    readings = [one for one in readings if one.roughness <= ROUGHER * smoothest]
    if not readings:
        return Verdict("unknown", (), "no way of reading it explains all that came and both movements")
    best = max(readings, key=lambda one: -one.step)
    other = next((one for one in readings if one is not best and not _agree(best, one)), None)
    if other is not None:
        return Verdict("ambiguous", readings, _what_would_tell(best, other))
    return Verdict("found", [best])


def at_key(profile: GaugeProfile, key: Contact) -> GaugeProfile:
    """The same, read when its key is pressed: asked then, or its next frame is meant. As it is where it sends
    at its key already."""
    manner = profile.manner
    if isinstance(manner, KeyPress | LineKey):
        return profile
    request = manner.request if isinstance(manner, Requested) else None
    timeout_s = manner.timeout_s if isinstance(manner, Requested) else manner.period_s * PERIODS_MISSED
    own = LineKey(
        kind="modem-line",
        line=key.line,
        pressed=key.pressed,
        debounce_s=key.debounce_s,
        request=request,
        timeout_s=timeout_s,
    )
    return profile.model_copy(update={"manner": own})


def _values(framing: Framing, cut: Cut, hearing: Hearing, quantity: Quantity) -> Iterator[Value]:
    yield from texts(cut, hearing.steps, quantity, is_line=framing.kind == "line")
    moved = any(step.at is None for step in hearing.steps)
    if framing.kind == "line" or not moved:
        return  # which bytes are digits, and how many, only a travel shows
    if isinstance(framing, CheckedFraming | PacketFraming):  # USB itself checks each packet
        yield from integers(cut, hearing.steps, quantity)
    yield from digits(cut, hearing.steps, quantity)


def _reading(
    hearing: Hearing, framing: Framing, value: Value, manner: Manner | None, gauge: str
) -> Reading | None:
    """The profile and what it makes of everything heard; None where it leaves a whole frame unexplained."""
    reader = codec(value, gauge)
    values: list[list[int]] = []
    proof: list[bytes] = []
    gaps: list[int] = []
    for step in hearing.steps:
        cutter = framer(framing, hunting=True)
        some: list[int] = []
        times: list[int] = []
        strange = lost = 0
        for piece in step.pieces:
            for frame in cutter.split(piece.data, piece.time_ns):
                try:
                    some.append(reader.value(frame))
                except FrameError:
                    strange += 1
                    if some:
                        return None
                    continue
                proof.append(frame)
                times.append(piece.time_ns)
                lost = lost if len(some) > 1 else cutter.lost
        if strange > BEFORE or cutter.lost > lost or not some:
            return None
        values.append(some)
        gaps += [b - a for a, b in pairwise(times)]
    port = hearing.port
    try:
        wrap = framer(framing).wrap
        pairs = _kept(values, [wrap(frame) for frame in proof])
        profile = GaugeProfile.model_validate(
            {
                "schema": "ringtrue/gauge/1",
                "id": gauge,
                "description": "Learnt from what the gauge sent; look at it before it is trusted",
                "port": port,
                "framing": framing,
                "value": value,
                "manner": manner or FreeRunning(kind="free-running", period_s=_period_s(gaps)),
                "latency": _latency(len(pairs[0][0]), port),
                "proof": [{"hex": data.hex(" ").upper(), "values": [number]} for data, number in pairs],
            }
        )
    except (ValidationError, EncodeError):
        return None
    travels = [some for some, step in zip(values, hearing.steps, strict=True) if step.at is None]
    roughness = sum(
        abs(c - 2 * b + a) for some in travels for a, b, c in zip(some, some[1:], some[2:], strict=False)
    )
    return Reading(profile, values, [data for data, _ in pairs], bool(travels), roughness)


def _kept(values: Sequence[Sequence[int]], frames: Sequence[bytes]) -> list[tuple[bytes, int]]:
    """Of each step the first frames that differ."""
    kept: dict[bytes, int] = {}
    at = 0
    for some in values:
        own = dict(zip(frames[at : at + len(some)], some, strict=True))
        at += len(some)
        new = [data for data in own if data not in kept]
        # Spread over the step, so that of a travel both ends are among them.
        kept |= {data: own[data] for data in new[:: max(len(new) // PROVEN, 1)][: PROVEN + 1]}
    return list(kept.items())


def _latency(size: int, port: PortSettings) -> dict[str, float]:
    """As long as the frame takes on the line; that it is sent as soon as measured is a guess."""
    if isinstance(port, KeyboardPort):
        return {"latency_s": float(f"{size * KEY_S:.2g}"), "u_s": float(f"{size * KEY_S / 3:.2g}")}
    if not isinstance(port, SerialPort):
        return {"latency_s": POLLED_S / 2, "u_s": float(f"{POLLED_S / 12**0.5:.2g}")}
    bits = 1 + port.bytesize + (port.parity != "none") + port.stopbits
    on_line_s = size * bits / port.baud
    return {"latency_s": float(f"{on_line_s:.2g}"), "u_s": float(f"{on_line_s / 2:.2g}")}


def _alike(one: Reading, other: Reading) -> bool:
    return (one.profile.framing, one.profile.value) == (other.profile.framing, other.profile.value)


def _agree(one: Reading, other: Reading) -> bool:
    """Whether two ways read the same wherever both read, up to the coarser step: what was heard, and what a
    gauge of either kind would send further out."""
    ports = one.profile.port, other.profile.port
    typed = all(isinstance(port, KeyboardPort) for port in ports)
    if ports[0] == ports[1] or typed:
        for sooner, later in zip(one.values, other.values, strict=True):
            coarse = max(one.step, other.step)
            if len(sooner) == len(later) and any(
                abs(a - b) > coarse for a, b in zip(sooner, later, strict=True)
            ):
                return False
        if isinstance(one.profile.value, PatternValue) and isinstance(other.profile.value, PatternValue):
            return one.moved and other.moved  # two numbers of one line, which went along in a travel too
    return _never_differ(one, other) and _never_differ(other, one)


def _never_differ(sender: Reading, hearer: Reading) -> bool:
    largest = max((abs(value) for some in sender.values for value in some), default=0)
    step = max(largest * BEYOND // COMPARED, 1)
    encoder = Encoder(sender.profile)
    theirs, ours = framer(sender.profile.framing), framer(hearer.profile.framing)
    writer = codec(sender.profile.value, sender.profile.id)
    reader = codec(hearer.profile.value, hearer.profile.id)
    coarse = max(sender.step, hearer.step)
    for number in range(-COMPARED, COMPARED + 1):
        try:
            frame = encoder.frame(number * step)
            theirs.restart()
            ours.restart()
            now_ns = (number + COMPARED) * APART_NS
            (sent,) = (writer.value(data) for data in theirs.split(frame, now_ns))
            heard = [reader.value(data) for data in ours.split(frame, now_ns)]
        except (EncodeError, FrameError):
            continue
        if any(abs(value - sent) > coarse for value in heard):
            return False
    return True


def _what_would_tell(one: Reading, other: Reading) -> str:
    first, second = one.profile, other.profile
    if isinstance(first.port, KeyboardPort) and first.port != second.port:
        return "two layouts of its keys fit: zero it amid its travel, so that it types both signs"
    if first.value.unit is not second.value.unit or first.value.scale != second.value.scale:
        return "two units fit: move it by a larger block, and give the sizes with --move"
    sides = [(min(map(min, way.values)), max(map(max, way.values))) for way in (one, other)]
    if all(low >= 0 or high <= 0 for low, high in sides):
        return (
            "what it shows above and below nought was not heard: zero it amid its travel, and learn it again"
        )
    return "two ways of reading it fit: move it through more of its travel"


def _period_s(gaps: Sequence[int]) -> float:
    """From one frame to the next, mostly, and something more: a gauge counts as silent after three of it."""
    usual_s = median(gaps) / 1e9 if gaps else 1.0
    return float(f"{max(usual_s * LONGEST_PERIOD, SHORTEST_PERIOD_S):.2g}")
