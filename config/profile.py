"""What a kind of gauge is, as data: how its port is set, framed, read and asked.

A profile is one TOML file (`config/gauges/*.toml`) and carries its own proof: bytes as they come
over the wire, with the readings they must give. Code knows archetypes, never makers.
"""

from __future__ import annotations

import re
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

WIRE = "latin-1"
"""Text in a profile stands for bytes one to one, so that `\\u0002` is the byte 0x02."""

PositiveS = Annotated[float, Field(gt=0, le=3600, allow_inf_nan=False)]


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class WireUnit(StrEnum):
    """The unit of the number on the wire."""

    MM = "mm"
    INCH = "in"
    DEG = "deg"
    COUNT = "count"


class PortSettings(_Model):
    """How a serial port is set. Network ports take what of it they can."""

    baud: Annotated[int, Field(ge=50, le=4_000_000)] = 9600
    """Speed, bit/s."""
    bytesize: Literal[7, 8] = 8
    """Bits of a character."""
    parity: Literal["none", "even", "odd"] = "none"
    """Parity bit."""
    stopbits: Literal[1, 2] = 1
    """Stop bits."""
    rtscts: bool = False
    """Flow control by RTS and CTS."""
    xonxoff: bool = False
    """Flow control by characters."""
    dtr: bool = True
    """DTR line, on while the port is open; some gauges draw their power from it."""
    rts: bool = True
    """RTS line, likewise."""
    low_latency: bool = True
    """Ask a converter not to hold short packets back (16 ms with some)."""


class LineFraming(_Model):
    """Frames that end in a terminator."""

    kind: Literal["line"]
    """Frames are lines."""
    terminator: Annotated[str, Field(min_length=1, max_length=8)]
    """What ends a frame, such as "\\r\\n"."""
    max_bytes: Annotated[int, Field(ge=1, le=4096)] = 64
    """The longest frame, its terminator not counted; longer ones are thrown away."""
    max_pause_s: PositiveS = 0.5
    """The longest pause within a frame; after more, what came before is half a frame."""

    @field_validator("terminator")
    @classmethod
    def _is_bytes(cls, value: str) -> str:
        return _byte_text(value)

    @property
    def terminator_bytes(self) -> bytes:
        """The terminator as it stands on the wire."""
        return self.terminator.encode(WIRE)


class ValuePattern(_Model):
    """How a number is taken out of a frame, and how one is written into it."""

    pattern: str
    """A regular expression that the whole frame must match, without its terminator; its group `value` holds
    the number (digits, at most one point, at most one leading sign) and an optional group `sign` the sign
    where spaces stand between the two."""
    template: str
    """The frame for a number, as a Python format of a decimal: `{:+09.3f}`."""
    unit: WireUnit
    """The unit of the number."""
    scale: Annotated[Decimal, Field(allow_inf_nan=False)] = Decimal(1)
    """The number times this is in `unit`; negative where plunger in counts down."""

    @field_validator("pattern")
    @classmethod
    def _compiles(cls, value: str) -> str:
        try:
            compiled = re.compile(_byte_text(value).encode(WIRE))
        except re.error as error:
            raise ValueError(f"a regular expression ({error})") from None
        if "value" not in compiled.groupindex:
            raise ValueError("a regular expression with a group (?P<value>…)")
        return value

    @field_validator("template")
    @classmethod
    def _formats(cls, value: str) -> str:
        try:
            _byte_text(value.format(Decimal(1)))
        except (ValueError, IndexError, KeyError, AttributeError, TypeError):
            raise ValueError("a format of one decimal number such as {:+09.3f}") from None
        return value

    @field_validator("scale")
    @classmethod
    def _not_nought(cls, value: Decimal) -> Decimal:
        if not value:
            raise ValueError("a number other than 0")
        return value

    @model_validator(mode="after")
    def _agree(self) -> Self:
        sample = self.template.format(Decimal(1)).encode(WIRE)
        if re.fullmatch(self.pattern.encode(WIRE), sample) is None:
            raise ValueError(f"a template that the pattern accepts ({sample!r} does not match)")
        return self


class FreeRunning(_Model):
    """The gauge sends by itself; silent after three missed periods."""

    kind: Literal["free-running"]
    """It sends unasked."""
    period_s: PositiveS
    """The longest time between two readings in ordinary use."""


class Requested(_Model):
    """The gauge answers a request; silent after three unanswered ones."""

    kind: Literal["requested"]
    """It is asked."""
    request: Annotated[str, Field(min_length=1, max_length=256)]
    """What it is asked with, terminator included."""
    period_s: PositiveS
    """Time from one request to the next."""
    timeout_s: PositiveS
    """How long an answer may take."""

    @field_validator("request")
    @classmethod
    def _is_bytes(cls, value: str) -> str:
        return _byte_text(value)

    @property
    def request_bytes(self) -> bytes:
        """The request as it goes over the wire."""
        return self.request.encode(WIRE)


class KeyPress(_Model):
    """The gauge sends when its key is pressed; never silent."""

    kind: Literal["key-press"]
    """Its key is pressed."""


Manner = Annotated[FreeRunning | Requested | KeyPress, Field(discriminator="kind")]


class Latency(_Model):
    """From the moment of measurement to the last byte: subtracted from the stamp."""

    latency_s: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)] = 0.0
    """How long that takes."""
    u_s: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)] = 0.0
    """Standard uncertainty of latency_s."""


class Proof(_Model):
    """Bytes as they come over the wire, and what they must give."""

    text: str | None = None
    """The bytes as text, terminators included; or hex."""
    hex: str | None = None
    """The bytes as pairs of hexadecimal digits."""
    values: tuple[int, ...] = ()
    """The readings in whole nanometres, microdegrees or counts, in order."""
    rejected: bool = False
    """The bytes hold a frame that must be no reading."""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.text is None) == (self.hex is None):
            raise ValueError("either text or hex")
        if bool(self.values) == self.rejected:
            raise ValueError("either values or rejected = true")
        try:
            _ = self.wire
        except ValueError:
            raise ValueError("text of single bytes, or pairs of hexadecimal digits") from None
        return self

    @property
    def wire(self) -> bytes:
        """The bytes."""
        return bytes.fromhex(self.hex) if self.hex is not None else (self.text or "").encode(WIRE)


class GaugeProfile(_Model):
    """One kind of gauge."""

    schema_: Literal["ringtrue/gauge/1"] = Field(alias="schema")
    """Which kind of file this is."""
    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=64)]
    """The profile's name."""
    description: str
    """What it is, never who makes it."""
    port: PortSettings = PortSettings()
    """How its serial port is set."""
    framing: LineFraming
    """How a frame ends."""
    value: ValuePattern
    """Where the number is in it."""
    manner: Manner
    """Whether it sends unasked, when asked, or when its key is pressed."""
    latency: Latency = Latency()
    """How old a reading is when it arrives."""
    proof: Annotated[tuple[Proof, ...], Field(min_length=1)]
    """Samples of what came over the wire."""

    @property
    def latency_ns(self) -> int:
        """The stated latency in whole nanoseconds."""
        return round(self.latency.latency_s * 1e9)


def _byte_text(value: str) -> str:
    try:
        value.encode(WIRE)
    except UnicodeEncodeError:
        raise ValueError("characters that are single bytes (up to \\u00ff)") from None
    return value
