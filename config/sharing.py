"""Which gauges of a bay are on one port of the machine, and whether they may be.

A port is opened by one. Only where a box sends several gauges on a line do several `[[gauge]]` name the same,
each by a profile with a `channel` of its own; whatever else is named twice would be read by whoever comes
first, or by neither. Pure, but for what a path stands for: `/dev/serial/by-id/…` is a name of `/dev/ttyUSB0`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from urllib.parse import urlsplit

from config.press import BoardPress, Press
from config.profile import GaugeProfile, HidPort, KeyboardPort, PortSettings, SerialPort, UsbPort
from config.settings import Settings
from config.toml import Loc, spelled
from config.usb import UsbIdentity

ITSELF = frozenset({"localhost", "127.0.0.1", "::1"})
"""Names of this machine on a network."""


Said = tuple[Loc, str, str, str]
"""A mistake: place of the key, what the key is called, what was found and what is expected."""


@dataclass(frozen=True, slots=True)
class User:
    """A gauge, or a switch, that wants a port. key, loc: its table. opened: how its port is. profile: None of
    a switch."""

    key: str
    loc: Loc
    port: str | None
    usb: UsbIdentity | None
    opened: PortSettings
    profile: GaugeProfile | None

    @property
    def part(self) -> int | None:
        """The interface of a device that it reads; None for the only one."""
        return self.opened.interface if isinstance(self.opened, UsbPort | HidPort) else None


def users(settings: Settings, profiles: Mapping[str, GaugeProfile]) -> list[User]:
    """All of a bay whose profiles are known."""
    found = []
    for n, gauge in enumerate(settings.gauge):
        if (profile := profiles.get(gauge.id)) is not None:
            place, key = ("gauge", n), f"gauge {gauge.id}"
            found.append(User(key, place, gauge.port, gauge.usb, profile.port, profile))
    press: Press | None = settings.angle.press
    if press is not None:
        opened = KeyboardPort(kind="keyboard") if isinstance(press, BoardPress) else SerialPort()
        found.append(User("angle.press", ("angle", "press"), press.port, press.usb, opened, None))
    return found


def doubled(several: Sequence[User]) -> Iterator[Said]:
    """Each that is on the port of one before it, by whatever names, and may not be."""
    for one, other in combinations(several, 2):
        if one.port is not None and other.port is not None:
            if place(one.port) == place(other.port):
                yield from told(one, other, "port", spelled(other.port))
        elif one.usb is not None and other.usb is not None and _may_be_one(one.usb, other.usb):
            if one.opened.kind != other.opened.kind or _are_apart(one, other):
                continue
            if one.usb != other.usb or refused(one, other) is not None:
                wanted = "what tells the two apart: a serial for each of them, or a location for each"
                yield (*other.loc, "usb"), f"{other.key} usb", f"what may be {one.key} too", wanted


def told(one: User, other: User, key: str, found: str) -> Iterator[Said]:
    """The mistake that two are on one port, where it is one."""
    wanted = None if _are_apart(one, other) else refused(one, other)
    if wanted is not None:
        yield (*other.loc, key), f"{other.key} {key}", f"{found}, which is the port of {one.key} too", wanted


def _are_apart(one: User, other: User) -> bool:
    """Whether they read two interfaces of a device."""
    return None not in (one.part, other.part) and one.part != other.part


def refused(one: User, other: User) -> str | None:
    """What is expected of two that are on one port; None where they may be."""
    first, second = one.profile, other.profile
    if first is None or second is None or first.channel is None or second.channel is None:
        return "a port of its own; or, where a box sends both on a line, profiles that each have a channel"
    if first.channel == second.channel:
        return f"a profile of another channel than {first.channel}, or a port of its own"
    if (first.port, first.manner) != (second.port, second.manner):
        return "profiles that have port and manner in common, as both are heard on one line"
    return None


def place(port: str) -> tuple[str, ...]:
    """What two names of one port have in common."""
    if "://" in port:
        parts = urlsplit(port)
        if parts.scheme.lower() in ("socket", "rfc2217"):
            try:
                host, number = (parts.hostname or "").lower(), parts.port
            except ValueError:  # no port's number: whoever opens it says so
                return (port,)
            return ("tcp", "localhost" if host in ITSELF else host, str(number))
        return (port,)
    return (os.path.realpath(port) if port.startswith("/") else port,)


def _may_be_one(one: UsbIdentity, other: UsbIdentity) -> bool:
    """Whether they could be the same device: with one of two unplugged, the other would be taken for it."""
    told_apart = [
        mine
        for mine, theirs in ((one.serial, other.serial), (one.location, other.location))
        if None not in (mine, theirs) and mine != theirs
    ]
    return (one.vendor, one.product) == (other.vendor, other.product) and not told_apart
