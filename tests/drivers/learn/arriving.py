"""What comes of a frame on each kind of port: while nothing is known of it, and as a profile has it set."""

from __future__ import annotations

import random
from collections.abc import Sequence

from config.profile import HidPort, KeyboardPort, PortSettings, SerialPort, UsbPort
from drivers.packets import END, bare, set_apart
from drivers.transports.keys import Keys
from simulators.keyboard import keys_of
from simulators.wire import received

KEY_NS, PACKET_BYTES = 16_000_000, 64
BATTERY = bytes([0x02, 0x55])
"""A report of another kind."""


def unheard(
    frame: bytes, truth: PortSettings, listening: PortSettings, rng: random.Random
) -> Sequence[tuple[int, bytes]]:
    """What a line tells of a frame that is sent now: ns from its beginning on, and bytes."""
    if isinstance(truth, SerialPort):
        assert isinstance(listening, SerialPort)
        return [(at_ns, bytes([byte])) for at_ns, byte in received(frame, truth, listening)]
    if isinstance(truth, KeyboardPort):
        keys = keys_of(frame.decode("latin-1"), truth.layout)
        return [(KEY_NS * (n + 1), records) for n, records in enumerate(keys)]
    transfers = [head(truth) + data for data in transferred(frame, truth, rng)]
    if isinstance(truth, HidPort) and truth.report_id is not None and rng.random() < 0.2:
        transfers.append(BATTERY)
    return [(1_000_000 * (n + 1), set_apart(data)) for n, data in enumerate(transfers)]


def heard(frame: bytes, truth: PortSettings, learnt: PortSettings) -> bytes:
    """What a port that is set as learnt hands on of it."""
    if isinstance(truth, SerialPort):
        assert isinstance(learnt, SerialPort)
        return bytes(byte for _, byte in received(frame, truth, learnt))
    if isinstance(truth, KeyboardPort):
        assert isinstance(learnt, KeyboardPort)
        keys = Keys(learnt.layout, end=learnt.end_character, settled_s=0.0)
        return keys.typed(b"".join(keys_of(frame.decode("latin-1"), truth.layout)), 1.0)
    came = b""
    for data in (head(truth) + one for one in transferred(frame, truth, None)):
        if isinstance(learnt, HidPort):
            own = b"" if learnt.report_id is None else bytes([learnt.report_id])
            came += set_apart(data[len(own) :]) if data.startswith(own) else b""
        else:
            assert isinstance(learnt, UsbPort)
            data = data[learnt.skip_bytes :]
            came += set_apart(data) if learnt.apart else data
    return came


def head(port: PortSettings) -> bytes:
    """What stands before each packet."""
    if isinstance(port, HidPort):
        return b"" if port.report_id is None else bytes([port.report_id])
    return bytes([0x01, 0x60])[: port.skip_bytes] if isinstance(port, UsbPort) else b""


def transferred(frame: bytes, port: PortSettings, rng: random.Random | None) -> list[bytes]:
    """The transfers of a frame; a stream is cut anywhere."""
    if port.apart:
        return [data for written in frame.split(END) if (data := bare(written))]
    at = 0 if rng is None or rng.random() < 0.7 else rng.randrange(len(frame))
    return [part for part in (frame[:at], frame[at:]) if part]
