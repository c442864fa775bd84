"""mosquitto as a workshop's server runs it: config/fleet/broker.conf and broker.acl."""

from __future__ import annotations

import subprocess
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path

from config.bridge import BridgeSettings
from config.settings import BaySettings, MqttSettings
from link.address import BrokerAddress
from link.bridge import bridge_lines
from link.broker import BuiltInBroker, find_mosquitto
from tests.link.outside import until_listening
from tests.parts.authority import Authority
from tests.parts.running import Part, quiet_port
from tests.parts.shipped import lay


class FleetBroker(Part):
    """One mosquitto; it knows `display`, `office`, `writer`, and those named, each a bay `site/name`.

    by_certificate: they come by a certificate, else by a password, `secret of NAME`. with_sparkplug: the
    lines of a bay that speaks it are in force.
    """

    def __init__(
        self,
        folder: Path,
        authority: Authority,
        users: Iterable[str],
        *,
        by_certificate: bool = False,
        with_sparkplug: bool = False,
    ) -> None:
        folder.mkdir(exist_ok=True)
        self.authority, self._by_certificate = authority, by_certificate
        self.port = quiet_port()
        certificate, key = authority.issue("broker")
        places = {
            "listener 8883": f"user root\nlistener {self.port} 127.0.0.1",
            "/etc/mosquitto/ringtrue/ca.crt": str(authority.file),
            "/etc/mosquitto/ringtrue/broker.crt": str(certificate),
            "/etc/mosquitto/ringtrue/broker.key": str(key),
            "/etc/mosquitto/ringtrue/": f"{folder}/",
            "#persistence true": "persistence true",
            "#persistence_location /var/lib/mosquitto": f"persistence_location {folder}",
        }
        if by_certificate:
            places["#require_certificate"] = "require_certificate"
            places["#use_identity_as_username"] = "use_identity_as_username"
            places["\npassword_file"] = "\n#password_file"
        config = lay(folder, "broker.conf", places)
        lay(folder, "broker.acl", {"#user": "user", "#topic": "topic"} if with_sparkplug else {})
        hashed = folder / "users"
        hashed.write_text(
            "".join(f"{user}:secret of {user}\n" for user in ("display", "office", "writer", *users))
        )
        subprocess.run(["mosquitto_passwd", "-U", str(hashed)], check=True)
        program = find_mosquitto()
        assert program is not None, "the tests need mosquitto"
        super().__init__("mosquitto", folder / "log", program, "-c", str(config))

    async def start(self) -> None:
        """Start it; it listens."""
        await super().start()
        await until_listening(self.address("writer"))

    def address(self, user: str) -> BrokerAddress:
        """For one of its users."""
        ca_file = self.authority.file
        if self._by_certificate:
            certificate, key = self.authority.issue(user)
            return BrokerAddress(
                "127.0.0.1", self.port, tls=True, ca_file=ca_file, certificate=certificate, key=key
            )
        return BrokerAddress(
            "127.0.0.1", self.port, tls=True, ca_file=ca_file, username=user, password=f"secret of {user}"
        )


@asynccontextmanager
async def fleet_broker(
    folder: Path, users: Iterable[str], *, by_certificate: bool = False, with_sparkplug: bool = False
) -> AsyncIterator[FleetBroker]:
    """One while the block runs."""
    broker = FleetBroker(
        folder / "broker",
        Authority(folder / "authority"),
        users,
        by_certificate=by_certificate,
        with_sparkplug=with_sparkplug,
    )
    await broker.start()
    try:
        yield broker
    finally:
        await broker.stop()


def bridged_broker(folder: Path, bay: str, authority: Authority, addresses: Iterable[str]) -> BuiltInBroker:
    """A bay's own, not started yet, which hands on to these addresses as `site/name`, by its certificate."""
    certificate, key = authority.issue(bay)
    bridge = BridgeSettings(
        addresses=tuple(addresses), ca_file=authority.file, certificate=certificate, key=key
    )
    site, _, name = bay.partition("/")
    lines = bridge_lines(bridge, BaySettings(site=site, name=name))
    return BuiltInBroker(MqttSettings(port=0, folder=folder), lines)
