"""When a gauge sends, one model for each manner.

Each says of itself: own_pace_s, the longest time between two readings that nobody asks for, None where the
gauge does not send by itself; request_bytes, what asks it for one, None where nothing does; by_hand, whether
somebody at the gauge means each reading.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field, field_validator

from config.profile.base import WIRE, Part, PositiveS, byte_text


class FreeRunning(Part):
    """The gauge sends by itself; silent after three missed periods."""

    kind: Literal["free-running"]
    """It sends unasked."""
    period_s: PositiveS
    """The longest time between two readings in ordinary use."""
    request_bytes: ClassVar[bytes | None] = None
    by_hand: ClassVar[bool] = False

    @property
    def own_pace_s(self) -> float | None:
        """Its period."""
        return self.period_s


class Requested(Part):
    """The gauge answers a request; silent after three unanswered ones."""

    kind: Literal["requested"]
    """It is asked."""
    request: Annotated[str, Field(min_length=1, max_length=256)]
    """What it is asked with, terminator included."""
    period_s: PositiveS
    """Time from one request to the next."""
    timeout_s: PositiveS
    """How long an answer may take."""
    own_pace_s: ClassVar[float | None] = None
    by_hand: ClassVar[bool] = False

    @field_validator("request")
    @classmethod
    def _is_bytes(cls, value: str) -> str:
        return byte_text(value)

    @property
    def request_bytes(self) -> bytes:
        """The request as it goes over the wire."""
        return self.request.encode(WIRE)


class KeyPress(Part):
    """The gauge sends when its key is pressed; never silent."""

    kind: Literal["key-press"]
    """Its key is pressed."""
    own_pace_s: ClassVar[float | None] = None
    request_bytes: ClassVar[bytes | None] = None
    by_hand: ClassVar[bool] = True


class LineKey(Part):
    """The gauge tells by a modem line that its key is pressed: it is asked then, or the frame that comes next
    is meant, of a gauge that sends all the time. Silent where none comes, until its key is pressed again."""

    kind: Literal["modem-line"]
    """Its key changes a modem line."""
    line: Literal["cts", "dsr", "ri", "cd"]
    """Which line changes."""
    pressed: Literal["on", "off"] = "on"
    """How it is while the key is pressed."""
    debounce_s: Annotated[float, Field(strict=True, ge=0, le=1, allow_inf_nan=False)] = 0.03
    """So long it must have been released before another press counts."""
    request: Annotated[str, Field(min_length=1, max_length=256)] | None = None
    """What it is asked with, terminator included; left out: its next frame is the reading."""
    timeout_s: PositiveS
    """How long the reading may take after the press."""
    own_pace_s: ClassVar[float | None] = None
    by_hand: ClassVar[bool] = True

    @field_validator("request")
    @classmethod
    def _is_bytes(cls, value: str | None) -> str | None:
        return None if value is None else byte_text(value)

    @property
    def request_bytes(self) -> bytes | None:
        """The request as it goes over the wire."""
        return None if self.request is None else self.request.encode(WIRE)


Manner = Annotated[FreeRunning | Requested | KeyPress | LineKey, Field(discriminator="kind")]
