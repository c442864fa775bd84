"""Sums and checks over the bytes of a frame."""

from __future__ import annotations

from collections.abc import Callable
from functools import reduce
from operator import xor
from typing import Literal

from config.profile import Check, CrcCheck, SumCheck


def check_of(check: Check) -> Callable[[bytes], bytes]:
    """What makes the check of some bytes, as it stands on the wire."""
    number = _number_of(check)
    size = check.bits // 8
    order: Literal["big", "little"] = "big" if check.order == "high-first" else "little"

    def made(data: bytes) -> bytes:
        raw = number(data).to_bytes(size, order)
        return raw.hex().upper().encode() if check.form == "hex" else raw

    return made


def _number_of(check: Check) -> Callable[[bytes], int]:
    if isinstance(check, CrcCheck):
        return _crc(check)
    if isinstance(check, SumCheck):
        sign, most = -1 if check.negated else 1, (1 << check.bits) - 1
        return lambda data: sign * sum(data) & most
    return lambda data: reduce(xor, data, 0)


def _crc(check: CrcCheck) -> Callable[[bytes], int]:
    """By a table of what each byte does to the register."""
    bits, most = check.bits, (1 << check.bits) - 1
    table = [_shifted(byte, check) for byte in range(256)]
    if check.reflected:
        initial = _mirrored(check.initial, bits)

        def low_first(data: bytes) -> int:
            register = initial
            for byte in data:
                register = table[(register ^ byte) & 0xFF] ^ register >> 8
            return register ^ check.final_xor

        return low_first

    def high_first(data: bytes) -> int:
        register = check.initial
        for byte in data:
            register = table[register >> bits - 8 ^ byte] ^ register << 8 & most
        return register ^ check.final_xor

    return high_first


def _shifted(byte: int, check: CrcCheck) -> int:
    """The register after eight shifts, of a byte alone."""
    bits, most = check.bits, (1 << check.bits) - 1
    if check.reflected:
        register, polynomial = byte, _mirrored(check.polynomial, bits)
        for _ in range(8):
            register = register >> 1 ^ (polynomial if register & 1 else 0)
        return register
    register = byte << bits - 8
    for _ in range(8):
        register = (register << 1 ^ (check.polynomial if register >> bits - 1 else 0)) & most
    return register


def _mirrored(number: int, bits: int) -> int:
    return int(f"{number:0{bits}b}"[::-1], 2)
