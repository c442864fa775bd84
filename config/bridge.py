"""Where a bay's own broker hands on what a fleet keeps."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Annotated, Any
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from config.section import FilePath, Section, mistake
from config.toml import Mistake, spelled

CROSSING = re.compile(r"[A-Za-z0-9_-]+")
"""Names that mean the same to every broker: a cluster takes `.` as the end of a level, `*` and `>` as
wildcards."""
DEFAULT_PORTS = {"mqtt": 1883, "mqtts": 8883}


def host_and_port(address: str) -> tuple[str, int]:
    """Of one of `addresses`."""
    parts = urlsplit(address)
    return parts.hostname or "", parts.port or DEFAULT_PORTS[parts.scheme]


class BridgeSettings(Section):
    """A fleet's broker, or cluster of brokers, to which the built-in broker hands on results, chain,
    checkpoint and status, and nothing else. What finds no way waits here. Back come the office's method and
    the command `resend`. Needs mosquitto."""

    addresses: tuple[str, ...] = ()
    """Where it listens, each `mqtts://host[:port]` or all `mqtt://…`; one is enough, of a cluster all."""
    username: Annotated[str, Field(min_length=1)] | None = None
    """If it wants one: mosquitto's access list of `config/fleet/` knows a bay as `site/name`."""
    password_file: FilePath | None = None
    """Its first line is the password."""
    ca_file: FilePath | None = None
    """With mqtts: the authority to trust (PEM)."""
    certificate: FilePath | None = None
    """With mqtts: the bay's own certificate (PEM), if it wants one."""
    key: FilePath | None = None
    """The certificate's key (PEM), without a password."""

    @field_validator("addresses")
    @classmethod
    def _known(cls, addresses: tuple[str, ...]) -> tuple[str, ...]:
        wanted = "mqtts://host:port (or all of them mqtt://host:port)"
        for address in addresses:
            try:
                parts = urlsplit(address)
                good = parts.scheme in DEFAULT_PORTS and bool(parts.hostname) and parts.port != 0
            except ValueError:
                good = False
            bare = re.fullmatch(r"mqtts?://[A-Za-z0-9._:\[\]-]+/?", address)
            if not (good and bare):
                raise ValueError(wanted)
        if len({urlsplit(address).scheme for address in addresses}) > 1:
            raise ValueError(wanted)
        return addresses

    @model_validator(mode="after")
    def _whole(self) -> BridgeSettings:
        if self.addresses and self.is_secured and self.ca_file is None:
            raise mistake("ca_file", "nothing", "the authority to trust, as addresses are mqtts://")
        if self.addresses and not self.is_secured and (self.ca_file or self.certificate):
            raise mistake("addresses", spelled(self.addresses[0]), "mqtts://…, as there are certificates")
        if (self.certificate is None) != (self.key is None):
            raise mistake("certificate", "one of the two", "certificate and key, or neither")
        if (self.username is None) != (self.password_file is None):
            raise mistake("username", "one of the two", "username and password_file, or neither")
        return self

    @property
    def is_secured(self) -> bool:
        """Whether it goes by TLS."""
        return any(address.startswith("mqtts:") for address in self.addresses)


def bridge_mistakes(data: Mapping[str, Any]) -> Iterator[Mistake]:
    """What the rest of the file, as it was read, has against a bridge."""
    bridge, bay, mqtt = (
        part if isinstance(part, dict) else {} for part in (data.get(k) for k in ("bridge", "bay", "mqtt"))
    )
    if not bridge.get("addresses"):
        return
    for key in ("site", "name"):
        name = bay.get(key)
        if isinstance(name, str) and CROSSING.fullmatch(name) is None:
            wanted = "letters, digits, - and _ alone, as a bridge carries it to brokers that read others so"
            yield Mistake(("bay", key), spelled(name), wanted)
    if mqtt.get("url", "built-in") != "built-in":
        wanted = (
            'no [bridge], as [mqtt] url is not "built-in": put config/fleet/bridge.conf into that '
            "broker's own configuration"
        )
        yield Mistake(("bridge", "addresses"), "some", wanted)
    elif mqtt.get("broker") == "iotcore":
        wanted = 'no [bridge], or [mqtt] broker = "mosquitto": the other cannot hand on'
        yield Mistake(("bridge", "addresses"), "some", wanted)
