"""What the journal hands to its senders."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Destination = Literal["mqtt", "records"]

CHAIN = "chain"
"""The topic of a chain's record that is for the records; a result document for them has none."""


@dataclass(frozen=True, slots=True)
class Outgoing:
    """Something to be delivered: to MQTT under `topic`, or to the records (`CHAIN` or empty)."""

    destination: Destination
    topic: str
    payload: bytes
    qos: int = 1
    retain: bool = False


@dataclass(frozen=True, slots=True)
class Resend:
    """Every result from `since` on (RFC 3339), and the chain's records from there and of its beginnings, once
    more: for MQTT the results under `before` + inspection + `after`, the records under `chain`."""

    destination: Destination
    since: str = ""
    before: str = ""
    after: str = ""
    chain: str = CHAIN
