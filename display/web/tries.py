"""How often a wrong password was given: guessing is slow, and nobody can keep another out by it.

OWASP ASVS 4.0.3, 2.2.1: no more than 100 wrong tries an hour on one name.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address

from contract.pauses import pause_s

REMEMBERED_MAX = 2000
"""Names and addresses that are remembered; beyond that the oldest are forgotten."""
FORGOTTEN_S = 900.0
"""Seconds without a wrong try, beyond any pause, after which those before count no more."""
_LETTERS_MAX = 100


@dataclass(frozen=True, slots=True)
class Rule:
    """So many wrong tries are free; then there is a pause, twice as long each time up to the longest."""

    free: int
    first_s: float
    longest_s: float

    def pause_s(self, number: int) -> float:
        """After so many wrong ones."""
        return 0.0 if number < self.free else pause_s(number - self.free, self.first_s, self.longest_s)


PAIR = Rule(5, 10.0, 300.0)
"""Of one name from one address: somebody who guesses at a tablet, or has forgotten."""
ADDRESS = Rule(20, 10.0, 300.0)
"""Of any names from one address."""
NAME = Rule(10, 40.0, 40.0)
"""Of one name from anywhere: 90 tries an hour. Whoever has entered by that name from an address before does
not wait for those who guess from others."""


@dataclass(slots=True)
class _Wrong:
    number: int
    until_s: float
    last_s: float


class Tries:
    """By name, by address, and by both."""

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._wrong: OrderedDict[tuple[str, str], _Wrong] = OrderedDict()
        self._entered: OrderedDict[tuple[str, str], None] = OrderedDict()

    def wait_s(self, name: str, address: str) -> float:
        """Seconds until another try is allowed."""
        pair = _pair(name, address)
        rules = [key for key in _rules(pair) if key != (pair[0], "") or pair not in self._entered]
        untils = [self._wrong[key].until_s for key in rules if key in self._wrong]
        return max(0.0, *(until_s - self._now_s() for until_s in untils), 0.0)

    def wrong(self, name: str, address: str) -> None:
        """Another wrong one."""
        now_s = self._now_s()
        for key, rule in _rules(_pair(name, address)).items():
            before = self._wrong.pop(key, None)
            is_new = before is None or now_s - max(before.last_s, before.until_s) > FORGOTTEN_S
            number = 1 if is_new or before is None else before.number + 1
            self._wrong[key] = _Wrong(number, now_s + rule.pause_s(number), now_s)
        while len(self._wrong) > REMEMBERED_MAX:
            self._wrong.popitem(last=False)

    def right(self, name: str, address: str) -> None:
        """The password was right: of this name, from here, no wrong one counts any more. Those of others from
        here do, else whoever has a password could try theirs for ever."""
        pair = _pair(name, address)
        self._wrong.pop(pair, None)
        self._entered[pair] = None
        self._entered.move_to_end(pair)
        while len(self._entered) > REMEMBERED_MAX:
            self._entered.popitem(last=False)


def _rules(pair: tuple[str, str]) -> dict[tuple[str, str], Rule]:
    name, network = pair
    return {pair: PAIR, ("", network): ADDRESS, (name, ""): NAME}


def network_of(address: str) -> str:
    """Whose address it is: of IPv6 one machine has a whole /64 (RFC 4291, 2.5.1)."""
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, IPv6Address) and found.ipv4_mapped is None:
        return f"{int(found) >> 64:x}"
    return str(found)


def _pair(name: str, address: str) -> tuple[str, str]:
    """A name as it is looked up, and whose address it is."""
    return f"name {' '.join(name.split()).casefold()[:_LETTERS_MAX]}", f"from {network_of(address)}"
