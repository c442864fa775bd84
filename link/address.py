"""Where a broker is, how to be let in, and what it says when we are gone."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from config.errors import ConfigError, Problem
from config.settings import MqttSettings
from config.writer import MqttSource


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """Where a broker listens and how to be let in.

    certificate, key: what is shown to a broker that asks for a certificate. protocol: 5 means try 5 and
    fall back to 3.1.1; 4 means 3.1.1 only.
    """

    host: str
    port: int
    tls: bool = False
    ca_file: Path | None = None
    certificate: Path | None = None
    key: Path | None = None
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    protocol: int = 5

    @property
    def url(self) -> str:
        """As one would write it, without the credential."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'mqtts' if self.tls else 'mqtt'}://{host}:{self.port}"


@dataclass(frozen=True, slots=True)
class Will:
    """What the broker publishes, at QoS 1, when the connection ends without a goodbye."""

    topic: str
    payload: bytes
    retain: bool = True


@dataclass(frozen=True, slots=True)
class Session:
    """What an MQTT 5 broker keeps for a client while it is away. client: its name there, no other's. kept_s:
    for how long. unacknowledged_max: messages at QoS 1 that it may send before the first is acknowledged."""

    client: str
    kept_s: int
    unacknowledged_max: int


def address_of(settings: MqttSettings | MqttSource, section: str = "mqtt") -> BrokerAddress:
    """The configured existing broker. section: where its keys stand. Raises ConfigError where its files
    cannot be read."""
    parts = urlsplit(settings.url)
    tls = parts.scheme == "mqtts"
    file = settings.password_file
    password = None if file is None else first_line(file, f"{section}.password_file")
    return BrokerAddress(
        host=parts.hostname or "",
        port=parts.port or (8883 if tls else 1883),
        tls=tls,
        ca_file=settings.ca_file,
        certificate=settings.certificate,
        key=settings.key,
        username=settings.username,
        password=password,
    )


def first_line(file: Path, key: str) -> str:
    """A password. key: of the configuration, which names the file. Raises ConfigError."""
    try:
        return file.read_text().splitlines()[0]
    except (OSError, UnicodeDecodeError, IndexError) as err:
        problem = str(err) or "an empty file"
        wanted = "a readable file with the password in its first line"
        raise ConfigError([Problem(str(file), None, key, problem, wanted)]) from None
