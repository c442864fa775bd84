"""How what was heard may be read, where a port's settings say more than the speed.

Listened to is what comes at the bottom, as nothing is known yet: a board's records, a HID's whole reports,
USB's transfers. Each way of setting the port makes bytes of them, as the port itself would.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace

from config.profile import HidPort, KeyboardPort, PortSettings, SerialPort, UsbPort
from drivers.capture import Piece
from drivers.learn.cutting import cuts
from drivers.learn.heard import Hearing, Step
from drivers.learn.speeds import is_text, with_seven_bits
from drivers.packets import END, bare, set_apart
from drivers.transports.keyboard import SETTLE_S
from drivers.transports.keys import SPOILT, Keys

LAYOUTS, ENDS = ("us", "german", "french"), ("enter", "tab")
FIGURES = b"+-.,0123456789\n\t"
TEXT = bytes(range(0x20, 0x7F)) + b"\r\n\t\x02\x03"
# Kinds of reports that one device sends, at most: its readings, its battery, its key.
REPORTS_MAX = 4
# Bytes at the head of each packet by which a converter tells of itself.
HEAD_BYTES = 2


def ways(hearing: Hearing) -> Iterator[Hearing]:
    """Each way, the likeliest first."""
    port = hearing.port
    if isinstance(port, SerialPort):
        yield from with_seven_bits(hearing)
    elif isinstance(port, KeyboardPort):
        yield from _typed(hearing, port)
    elif isinstance(port, HidPort):
        yield from _reports(hearing, port)
    elif isinstance(port, UsbPort):
        yield from _transfers(hearing, port)


def could_be(hearing: Hearing) -> bool:
    """Whether there are frames in it at all."""
    return any(True for one in ways(hearing) for _ in cuts(one))


def _typed(hearing: Hearing, port: KeyboardPort) -> Iterator[Hearing]:
    """Of layouts by which the same is read one alone; those with figures and signs alone first."""
    found: dict[bytes, Hearing] = {}
    for end in ENDS:
        for layout in LAYOUTS:
            own = port.model_copy(update={"layout": layout, "end": end})
            one = as_set(hearing, own)
            if one.data:
                found.setdefault(one.data, one)
    yield from sorted(found.values(), key=lambda one: len(one.data.translate(None, FIGURES)))


def _lines(step: Step, port: KeyboardPort) -> list[Piece]:
    """The lines of one step, without the first where it was being typed as listening began."""
    keys = Keys(port.layout, end=port.end_character, settled_s=SETTLE_S)
    cut = SPOILT + port.end_character.encode()
    pieces: list[Piece] = []
    for piece in step.pieces:
        typed = keys.typed(piece.data, piece.time_ns / 1e9)
        if not pieces:
            typed = typed.removeprefix(cut)
        if typed:
            pieces.append(replace(piece, data=typed))
    return pieces


def as_set(hearing: Hearing, port: PortSettings) -> Hearing:
    """What was heard of such a port at its bottom, as it is handed on where the port is set so."""
    if isinstance(port, KeyboardPort):
        return Hearing(port, [replace(step, pieces=_lines(step, port)) for step in hearing.steps])
    if isinstance(port, HidPort) and port.report_id is not None:
        own = bytes([port.report_id])
        return _remade(
            hearing, port, lambda packet: set_apart(packet[1:]) if packet[:1] == own and packet[1:] else b""
        )
    if isinstance(port, UsbPort):
        skip, wrap = port.skip_bytes, set_apart if port.apart else bytes
        return _remade(hearing, port, lambda packet: wrap(packet[skip:]) if packet[skip:] else b"")
    return Hearing(port, hearing.steps)


def _reports(hearing: Hearing, port: HidPort) -> Iterator[Hearing]:
    """All as they are; where there are several kinds by their first byte, the commonest alone first."""
    first = Counter(packet[:1] for step in hearing.steps for one in step.pieces for packet in _packets(one))
    if 2 <= len(first) <= REPORTS_MAX:
        ((prefix, _),) = first.most_common(1)
        yield as_set(hearing, port.model_copy(update={"report_id": prefix[0]}))
    yield hearing


def _transfers(hearing: Hearing, port: UsbPort) -> Iterator[Hearing]:
    """As a stream alone where that is text; else as packets first."""
    packets = [packet for step in hearing.steps for piece in step.pieces for packet in _packets(piece)]
    # No text begins each transfer with a byte that is no letter and ends no line.
    skip = 0 if any(packet[:1] in TEXT for packet in packets) else HEAD_BYTES
    stream = as_set(hearing, port.model_copy(update={"apart": False, "skip_bytes": skip}))
    if is_text(stream.data):
        yield stream
        return
    yield hearing
    yield as_set(hearing, port.model_copy(update={"apart": False}))


def _remade(hearing: Hearing, port: HidPort | UsbPort, told: Callable[[bytes], bytes]) -> Hearing:
    """What `told` makes of each packet, of a port that is set so."""
    steps = []
    for step in hearing.steps:
        made = [replace(one, data=b"".join(map(told, _packets(one)))) for one in step.pieces]
        steps.append(replace(step, pieces=[one for one in made if one.data]))
    return Hearing(port, steps)


def _packets(piece: Piece) -> Iterator[bytes]:
    for written in piece.data.split(END):
        packet = bare(written)
        if packet:
            yield packet
