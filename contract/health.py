"""What the daemon counts of itself, for whoever watches over many bays."""

from __future__ import annotations

from contract.wire import Message, encode

EVERY_S = 10.0
"""How often it is said."""


class GaugeHealth(Message):
    """Of one gauge since the daemon's start. frames: whole ones = readings + rejected; overlong, halves: of
    what was none; bytes_discarded: that belonged to no frame; bytes_lost: that were dropped here because a
    queue was full. openings, failures: of its port; unanswered: requests."""

    readings: int
    frames: int
    rejected: int
    overlong: int
    halves: int
    bytes_in: int
    bytes_discarded: int
    bytes_lost: int
    openings: int
    failures: int
    unanswered: int


class WaitingHealth(Message):
    """Messages that wait in the journal for one destination. oldest_s: at least so long the first of them."""

    waiting: int
    oldest_s: float


class HealthMessage(Message):
    """time: when (RFC 3339). up_s: since the daemon's start, as are all counts. readings_dropped: that no
    display had, as the broker was too slow; the journal has them. outbox: by destination, `mqtt` and
    `records`. disk_free_bytes: where the journal lies; resident_bytes: of the daemon."""

    time: str
    up_s: float
    gauges: dict[str, GaugeHealth]
    readings_sent: int
    readings_dropped: int
    connects: int
    outbox: dict[str, WaitingHealth]
    disk_free_bytes: int
    resident_bytes: int


def health_payload(message: HealthMessage) -> bytes:
    """As JSON."""
    return encode(message.model_dump())
