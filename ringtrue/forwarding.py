"""The handing on of results put together: settings, records, receiver."""

from __future__ import annotations

import ssl
from datetime import UTC, datetime

from config.errors import ConfigError, Problem
from config.settings import Settings
from config.webhook import WebhookSettings
from records.forwarding.deliveries import Deliveries
from records.forwarding.receiver import Receiver


def deliveries_of(settings: Settings) -> Deliveries:
    """What the receiver of these settings has had. Only where `[webhook] url` is given."""
    day = settings.webhook.since
    since = None if day is None else datetime(day.year, day.month, day.day, tzinfo=UTC)
    return Deliveries(settings.records.url, settings.webhook.url or "", since)


def receiver_of(settings: Settings) -> Receiver:
    """Where results go. Raises ConfigError where a file of its settings cannot be used."""
    webhook = settings.webhook
    secret, trusted = _secret(webhook), _trusted(webhook)
    key_id = f"{settings.bay.site}/{settings.bay.name}"
    try:
        return Receiver(webhook.url or "", secret=secret, key_id=key_id, trusted=trusted)
    except ValueError as error:
        raise _wrong(webhook, "url", str(error), "a URL such as https://host/results") from None


def _secret(webhook: WebhookSettings) -> bytes | None:
    if webhook.secret_file is None:
        return None
    try:
        lines = webhook.secret_file.read_bytes().splitlines()
    except OSError as error:
        raise _wrong(
            webhook, "secret_file", error.strerror or str(error), "a file that can be read"
        ) from None
    if not lines or not lines[0].strip():
        raise _wrong(webhook, "secret_file", "an empty first line", "the secret in its first line")
    return lines[0].strip()


def _trusted(webhook: WebhookSettings) -> ssl.SSLContext | None:
    if webhook.ca_file is None:
        return None
    try:
        return ssl.create_default_context(cafile=webhook.ca_file)
    except OSError as error:
        wanted = "a file of certificates (PEM) that can be read"
        raise _wrong(webhook, "ca_file", error.strerror or str(error), wanted) from None


def _wrong(webhook: WebhookSettings, key: str, found: str, wanted: str) -> ConfigError:
    return ConfigError([Problem(str(getattr(webhook, key)), None, f"webhook.{key}", found, wanted)])
