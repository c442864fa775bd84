"""The built-in broker's bridge to a fleet's brokers: what ships in config/fleet/bridge.conf, filled in."""

from __future__ import annotations

from pathlib import Path
from string import Template
from zlib import crc32

from config.bridge import BridgeSettings, host_and_port
from config.errors import ConfigError, Problem
from config.files import fleet_file
from config.settings import BaySettings
from link.address import first_line


def bridge_lines(bridge: BridgeSettings, bay: BaySettings) -> str:
    """Lines of mosquitto's configuration; none where nothing is handed on. Raises ConfigError where a file
    that is named cannot be read."""
    if not bridge.addresses:
        return ""
    # Bays begin with different nodes of a cluster, so that each has its share.
    first = crc32(f"{bay.site}/{bay.name}".encode()) % len(bridge.addresses)
    turned = [*bridge.addresses[first:], *bridge.addresses[:first]]
    addresses = " ".join(f"{host}:{port}" for host, port in map(host_and_port, turned))
    shipped = Template(_without_head(fleet_file("bridge.conf").read_text()))
    lines = [shipped.substitute(addresses=addresses, site=bay.site, bay=bay.name).rstrip()]
    for key, file in (
        ("ca_file", bridge.ca_file), ("certificate", bridge.certificate), ("key", bridge.key),
    ):  # fmt: skip
        if file is not None:
            _readable(file, f"bridge.{key}")
            lines.append(f"{_OPTIONS[key]} {file}")
    if bridge.username is not None and bridge.password_file is not None:
        lines.append(f"remote_username {bridge.username}")
        lines.append(f"remote_password {first_line(bridge.password_file, 'bridge.password_file')}")
    return "\n".join(lines) + "\n"


# What mosquitto 2 says of a bridge, and what that means; of anything else a bridge is no part.
_TROUBLES = {
    "not authori": "it refuses this bay: its list must know the certificate's subject, or the user",
    "certificate verify failed": "its certificate is not one of [bridge] ca_file, or not for that address",
    "OpenSSL Error": "it and this bay agree on no TLS",
    "Error creating bridge": "it cannot be reached",
    "Connection Refused": "it lets this bay not in",
}


def bridge_trouble(line: str) -> str | None:
    """What a line of mosquitto's says of its bridge; None where it speaks of something else."""
    found = next((words for words in _TROUBLES if words in line), None)
    return None if found is None else f"{_TROUBLES[found]} ({line.partition(': ')[2] or line})"


_OPTIONS = {"ca_file": "bridge_cafile", "certificate": "bridge_certfile", "key": "bridge_keyfile"}


def _without_head(text: str) -> str:
    """What is for whoever fills it in by hand speaks of `$` too."""
    return text.partition("\n\n")[2]


def _readable(file: Path, key: str) -> None:
    """mosquitto would not start, or start and say nothing."""
    try:
        file.read_bytes()
    except OSError as error:
        raise ConfigError(
            [Problem(str(file), None, key, error.strerror or str(error), "a PEM file")]
        ) from None
