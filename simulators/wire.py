"""What bytes become on a serial line whose two ends are set differently: bit by bit, as a receiver samples.

    idle ──┐   ┌───┬       ┬────┬───── idle
           │ 0 │ lowest bit first… │ parity │ stop
           └───┘
           start

A receiver waits for a falling edge, samples the middle of each bit at its own speed, and where the stop bit
is low hands on a nought, as a kernel does that is not asked to mark errors. Parity is not looked at.
"""

from __future__ import annotations

from functools import lru_cache

from config.profile import SerialPort
from simulators.barring import NS_PER_S


def received(data: bytes, sender: SerialPort, hearer: SerialPort) -> list[tuple[int, int]]:
    """What the hearer gets of bytes sent one after another: for each when it is whole, ns after the first
    start bit, and the byte."""
    return list(_received(data, _line(sender), _line(hearer)))


_Line = tuple[int, int, str, int]


def _line(port: SerialPort) -> _Line:
    return port.baud, port.bytesize, port.parity, port.stopbits


def _bits(data: bytes, line: _Line) -> list[int]:
    _, size, parity, stop = line
    bits: list[int] = []
    for byte in data:
        own = [byte >> n & 1 for n in range(size)]
        bits += [0, *own]
        if parity != "none":
            bits.append(sum(own) % 2 ^ (parity == "odd"))
        bits += [1] * stop
    return bits


@lru_cache(maxsize=65_536)
def _received(data: bytes, sender: _Line, hearer: _Line) -> tuple[tuple[int, int], ...]:
    theirs, ours = NS_PER_S / sender[0], NS_PER_S / hearer[0]
    size, parity = hearer[1], hearer[2] != "none"
    if sender == hearer:
        # Every sample is of the bit that was meant.
        long, whole = 1 + size + parity + sender[3], (size + 1.5 + parity) * ours
        return tuple(
            (round(n * long * theirs + whole), byte & (1 << size) - 1) for n, byte in enumerate(data)
        )
    bits = _bits(data, sender)

    def level(time_ns: float) -> int:
        at = int(time_ns / theirs)
        return bits[at] if at < len(bits) else 1

    falls = [n * theirs for n, bit in enumerate(bits) if not bit and (n == 0 or bits[n - 1])]
    got: list[tuple[int, int]] = []
    free_ns = 0.0
    for fall_ns in falls:
        if fall_ns < free_ns:
            continue
        byte = sum(level(fall_ns + (n + 1.5) * ours) << n for n in range(size))
        stop_ns = fall_ns + (size + 1.5 + parity) * ours
        if not level(stop_ns):
            byte = 0
        free_ns = stop_ns
        got.append((round(stop_ns), byte))
    return tuple(got)
