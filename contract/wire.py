"""JSON and times as they go over the wire."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from pydantic import BaseModel, ConfigDict


class Message(BaseModel):
    """What all messages share: a reader ignores keys that it does not know."""

    model_config = ConfigDict(extra="ignore", frozen=True, populate_by_name=True)


def encode(message: dict[str, Any]) -> bytes:
    """Compact JSON, UTF-8; a NaN is an error, never sent."""
    return json.dumps(message, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def rfc3339(moment: datetime) -> str:
    """UTC with `Z`, whole milliseconds (RFC 3339, 5.6)."""
    # Not by strftime, whose year 900 has three digits here: such times would not sort as text.
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").removesuffix("+00:00") + "Z"
