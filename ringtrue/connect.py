"""How a command that is a client finds its bay's broker: by the bay's configuration, or by URL."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from pathlib import Path

from pydantic import ValidationError

from config.settings import BROKER_URL, MqttSettings, Settings, read_settings
from contract.topics import Topics
from link.address import BrokerAddress, address_of
from link.broker import built_in_address
from ringtrue.arguments import UsageError

ANY_LEVEL = "+"
"""MQTT's wildcard for one level of a topic."""


def add_options(parser: argparse.ArgumentParser, *, any_bay: bool) -> None:
    """The options that say which bay; any_bay: whether all bays of a broker may be meant."""
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("ringtrue.toml"),
        metavar="FILE",
        help="the bay's configuration, which says where its broker is (default: %(default)s)",
    )
    parser.add_argument("--url", help="another way: the broker, mqtt://HOST:PORT or mqtts://HOST:PORT")
    every = "; without it all bays of that broker" if any_bay else ""
    parser.add_argument("--bay", metavar="SITE/NAME", help=f"with --url: which bay{every}")
    parser.add_argument("--username", help="with --url: if the broker wants one")
    parser.add_argument(
        "--password-file", type=Path, metavar="FILE", help="with --url: its first line is used"
    )
    parser.add_argument("--ca-file", type=Path, metavar="FILE", help="with mqtts: the authority to trust")
    parser.add_argument("--certificate", type=Path, metavar="FILE", help="with mqtts: one of our own")
    parser.add_argument("--key", type=Path, metavar="FILE", help="its key")


def broker_of(settings: Settings) -> Callable[[], BrokerAddress]:
    """Where the bay's broker is: of the built-in one as it is now. Raises ConfigError."""
    if settings.mqtt.built_in:
        return lambda: built_in_address(settings.mqtt)
    address = address_of(settings.mqtt)
    return lambda: address


def find(args: argparse.Namespace) -> tuple[Callable[[], BrokerAddress], Topics]:
    """How to find the broker (asked before each attempt), and the bay's topics. Raises ConfigError,
    UsageError."""
    if args.url is None:
        settings = read_settings(args.config, os.environ)
        return broker_of(settings), Topics(settings.bay.site, settings.bay.name)
    site, slash, name = (args.bay or f"{ANY_LEVEL}/{ANY_LEVEL}").partition("/")
    if not (slash and site and name):
        raise UsageError("--bay", args.bay, "SITE/NAME")
    if args.password_file is not None and args.username is None:
        raise UsageError("--username", "nothing", "whose password --password-file names")
    try:
        mqtt = MqttSettings.model_validate(
            {
                "url": args.url,
                "username": args.username,
                "password_file": args.password_file and args.password_file.absolute(),
                "ca_file": args.ca_file and args.ca_file.absolute(),
                "certificate": args.certificate and args.certificate.absolute(),
                "key": args.key and args.key.absolute(),
            }
        )
    except ValidationError as error:
        if any(problem["loc"] != ("url",) for problem in error.errors()):
            raise UsageError("--certificate", args.certificate, "with --key, and --url mqtts://…") from None
        raise UsageError("--url", args.url, BROKER_URL) from None
    address = address_of(mqtt)
    return lambda: address, Topics(site, name)
