"""Whether what was learnt of a gauge is what it is."""

from __future__ import annotations

from fractions import Fraction

from config.profile import GaugeProfile, LineKey
from drivers.encoding import Encoder
from drivers.errors import EncodeError, FrameError
from drivers.framings import framer
from drivers.values import codec
from ringtrue.learning import Learning, Trying
from tests.drivers.learn.arriving import heard
from tests.drivers.learn.kinds import Drawn, unset

# Values over the travel by which the learnt profile is held against the true one.
COMPARED = 997


def outcome(unknown: Drawn) -> tuple[str, str]:
    """`right`, `narrow` (it reads nothing else, but not all), `wrong`, `ambiguous` or `unknown`; and why."""
    one = 1 if unknown.quantity == "length" else 90
    moves = (Fraction(one), Fraction(-one))
    gauge = unknown.gauge
    trying = Trying(
        unknown.quantity,
        moves,
        may_transmit=gauge.kind.manner.request_bytes is not None,
        ports=unset(gauge.kind.port),
        key=gauge.key is not None,
    )
    verdict = Learning(gauge, gauge, trying).run().verdict
    if verdict.answer != "found":
        return verdict.answer, verdict.why
    return compared(gauge.kind, verdict.readings[0].profile, unknown)


def compared(truth: GaugeProfile, learnt: GaugeProfile, unknown: Drawn) -> tuple[str, str]:
    gauge, encoder = unknown.gauge, Encoder(truth)
    true_codec, our_codec = codec(truth.value, ""), codec(learnt.value, "")
    noise, gauge.noise = gauge.noise, 0.0
    theirs, ours = framer(truth.framing), framer(learnt.framing)
    travel = gauge.travel
    narrow = ""
    if true_codec.unit is not our_codec.unit:
        return "wrong", f"reads {our_codec.unit}"
    if truth.manner.kind != learnt.manner.kind:
        return "wrong", f"{truth.manner.kind} taken for {learnt.manner.kind}"
    if isinstance(truth.manner, LineKey) and isinstance(learnt.manner, LineKey):
        was, is_told = ((one.line, one.pressed) for one in (truth.manner, learnt.manner))
        asked = (learnt.manner.request_bytes or b"").find(truth.manner.request_bytes or b"") >= 0
        if was != is_told or not asked:
            return "wrong", f"{truth.manner} taken for {learnt.manner}"
    for number in range(COMPARED):
        place = travel * (2.0 * number / (COMPARED - 1) - 1.0)
        try:
            frame = encoder.frame(gauge.shown(place))
        except EncodeError:
            continue
        theirs.restart()
        ours.restart()
        # Each after a pause, which some checks need.
        now_ns = number * 10**9
        (data,) = theirs.split(frame, now_ns)
        value = true_codec.value(data)
        read = []
        for found in ours.split(heard(frame, truth.port, learnt.port), now_ns):
            try:
                read.append(our_codec.value(found))
            except FrameError:
                continue
        if any(one != value for one in read) or len(read) > 1:
            gauge.noise = noise
            return "wrong", f"{frame!r} is {value}, read as {read} by {learnt.framing} {learnt.value}"
        narrow = narrow or (
            f"{frame!r} is {value}, not read by {learnt.framing} {learnt.value}" if not read else ""
        )
    gauge.noise = noise
    return ("narrow", narrow) if narrow else ("right", "")
