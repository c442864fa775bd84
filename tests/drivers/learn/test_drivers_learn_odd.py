"""Gauges that are none of the archetypes, or nearly one: none is taken for what it is not."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from fractions import Fraction
from itertools import count

import pytest

from contract.units import NM_PER_INCH
from drivers.learn.judging import Verdict
from ringtrue.learning import Learning, Trying
from tests.drivers.learn.unknown import Unknown
from tests.drivers.support import profile

pytestmark = pytest.mark.slow

NUMBERS = count()


def text(nm: float) -> str:
    return f"{nm / 1e6:+08.3f}"


def um(nm: int) -> int:
    return nm // 1000


def nibbled(*digits: int) -> bytes:
    return bytes([0xFA, *(a << 4 | b for a, b in zip(digits[::2], digits[1::2], strict=True))])


def summed(data: bytes) -> bytes:
    return bytes([0xA5, *data, sum(data) & 0xFF])


UNKNOWN: dict[str, Callable[[int], bytes]] = {
    "integers with a comma between": lambda nm: f"{um(nm):+06d},{next(NUMBERS) * 7 % 1000:03d}\r\n".encode(),
    "two channels by turns": lambda nm: f"{text(nm if next(NUMBERS) % 2 else 5e6)}\r\n".encode(),
    "sign lost": lambda nm: f"{abs(nm) / 1e6:07.3f}\r\n".encode(),
    "sign behind": lambda nm: f"{abs(nm) / 1e6:07.3f}{'-' if nm < 0 else '+'}\r\n".encode(),
    "diameter for radius": lambda nm: f"{text(2 * nm)}\r\n".encode(),
    "hexadecimal": lambda nm: f"{um(nm) & 0xFFFFFF:06X}\r\n".encode(),
    "sign as a figure": lambda nm: f"{'1' if nm < 0 else '0'}{abs(nm) / 1e6:06.3f}\r\n".encode(),
    "letters that change": lambda nm: f"{'MS'[next(NUMBERS) % 3 > 0]}{text(nm)}\r\n".encode(),
    "a check of its own": lambda nm: (
        (d := um(nm).to_bytes(4, "big", signed=True)) and bytes([0xA5, *d, (3 * sum(d) + 7) & 0xFF])
    ),
    "no check": lambda nm: bytes([0xA5]) + um(nm).to_bytes(4, "big", signed=True),
    "floating point": lambda nm: summed(struct.pack(">f", nm / 1e6)),
    "sign and size": lambda nm: summed((abs(um(nm)) | (nm < 0) << 31).to_bytes(4, "big")),
    "tens' complement": lambda nm: nibbled(0, *map(int, f"{um(nm) % 1_000_000:06d}"), 3, 14, 14),
    "restless digits": lambda nm: nibbled(
        8 * (nm < 0), *map(int, f"{abs(um(nm)):06d}"), 3, next(NUMBERS) * 7 % 10, next(NUMBERS) * 3 % 10
    ),
}
"""What a gauge sends for a number of nanometres, of which nothing is to be made."""

READ: dict[str, Callable[[int], bytes]] = {
    "two units in a line": lambda nm: f"{text(nm)}mm {nm / NM_PER_INCH:+08.5f}in\r\n".encode(),
    "a counter before it": lambda nm: f"{next(NUMBERS) % 1000:03d} {text(nm)}\r\n".encode(),
    "decimal comma": lambda nm: f"{text(nm)}\r\n".replace(".", ",").encode(),
    "decimal comma in a row of them": lambda nm: f"{text(nm)};{text(7)}\r\n".replace(".", ",").encode(),
    "exponent": lambda nm: f"{nm / 1e6:+.4E}\r\n".encode(),
    "metres with an exponent": lambda nm: f"{nm / 1e9:.7e} m\r\n".encode(),
    "metres": lambda nm: f"{nm / 1e9:+.6f}\r\n".encode(),
    "sign the other way": lambda nm: nibbled(8 * (nm >= 0), *map(int, f"{abs(um(nm)):06d}"), 3, 14, 14),
}


def learnt(sends: Callable[[int], bytes], seed: int, monkeypatch: pytest.MonkeyPatch) -> Verdict:
    gauge = Unknown(profile("line-mm"), random.Random(seed), noise=0.4)

    def frame(at_s: float) -> bytes:
        return sends(gauge.shown(gauge._place if gauge._place is not None else gauge._travelled(at_s)))

    monkeypatch.setattr(gauge, "_frame", frame)
    trying = Trying("length", (Fraction(1), Fraction(-1)), budget_s=1e9)
    return Learning(gauge, gauge, trying).run().verdict


@pytest.mark.parametrize("name", UNKNOWN)
def test_nothing_is_made_of_it(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for seed in (1, 2):
        verdict = learnt(UNKNOWN[name], seed, monkeypatch)
        assert verdict.answer == "unknown", verdict
        assert verdict.why


@pytest.mark.parametrize("name", READ)
def test_it_is_read_as_it_is(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    verdict = learnt(READ[name], 1, monkeypatch)
    assert verdict.answer == "found", verdict
    rest, further_in, further_out, *_ = verdict.readings[0].values
    for values, at_nm in ((rest, 0), (further_in, 1_000_000), (further_out, -1_000_000)):
        assert all(abs(value - at_nm) < 15_000 for value in values)


def test_two_numbers_that_do_not_go_along_are_ambiguous(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a line with a value and the same stretched by 2 %, either may be meant."""
    verdict = learnt(lambda nm: f"{text(nm)} {text(nm * 1.02)}\r\n".encode(), 1, monkeypatch)
    assert (verdict.answer, len(verdict.readings)) == ("ambiguous", 2)
