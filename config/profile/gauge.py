"""One kind of gauge, of its parts, with its proof."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from config.profile.base import WIRE, Part
from config.profile.framing import Framing, LineFraming
from config.profile.manner import LineKey, Manner
from config.profile.number import WireUnit
from config.profile.pattern import PatternValue
from config.profile.port import KeyboardPort, PortSettings, SerialPort
from config.profile.value import DigitsValue, Value


class Latency(Part):
    """From the moment of measurement to the last byte: subtracted from the stamp."""

    latency_s: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)] = 0.0
    """How long that takes."""
    u_s: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)] = 0.0
    """Standard uncertainty of latency_s."""


class Proof(Part):
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


class GaugeProfile(Part):
    """One kind of gauge."""

    schema_: Literal["ringtrue/gauge/1"] = Field(alias="schema")
    """Which kind of file this is."""
    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=64)]
    """The profile's name."""
    description: str
    """What it is, never who makes it."""
    channel: Annotated[str, Field(min_length=1, max_length=32)] | None = None
    """Which one it is of several gauges that a box sends on one port, by any name. Gauges of one bay whose
    profiles differ in it, and have port and manner in common, may be on the same port; it is opened once."""
    port: PortSettings = SerialPort()
    """How its port is opened and set."""
    framing: Framing
    """How a frame is found."""
    value: Value
    """Where the number is in it."""
    manner: Manner
    """Whether it sends unasked, when asked, or when its key is pressed."""
    latency: Latency = Latency()
    """How old a reading is when it arrives."""
    proof: Annotated[tuple[Proof, ...], Field(min_length=1)]
    """Samples of what came over the wire."""

    @model_validator(mode="after")
    def _frames_can_be_told_apart(self) -> Self:
        wanted = self.framing.misfit(self.value.alphabets)
        if wanted is not None:
            said = {"key": "framing", "found": f"kind {self.framing.kind}", "expected": wanted}
            raise PydanticCustomError("mistake", "framing: expected {expected}", said)
        return self

    @model_validator(mode="after")
    def _port_suits(self) -> Self:
        port, framing, key, wanted = self.port, self.framing, "framing", None
        if port.apart and framing.kind != "packet":
            wanted = "kind packet, as its port hands on packets"
        elif isinstance(port, KeyboardPort) and (
            not isinstance(framing, LineFraming) or framing.terminator != port.end_character
        ):
            end = "\\n" if port.end == "enter" else "\\t"
            wanted = f'kind line with terminator "{end}", as its port\'s end is {port.end}'
        elif self.channel is not None and isinstance(self.manner, LineKey):
            key, wanted = (
                "manner",
                "another, as it has a channel: which one its key is for is not told",
            )
        elif self.manner.request_bytes is not None and not port.answers:
            key, wanted = "manner", "one that is not asked, as nothing can be sent to a gauge that types"
        if wanted is not None:
            found = f"kind {getattr(self, key).kind}"
            said = {"key": key, "found": found, "expected": wanted}
            raise PydanticCustomError("mistake", f"{key}: expected {{expected}}", said)
        return self

    @property
    def latency_ns(self) -> int:
        """The stated latency in whole nanoseconds."""
        return round(self.latency.latency_s * 1e9)

    @property
    def unit_is_told(self) -> bool:
        """Whether its frames say their unit, or it has no other."""
        value = self.value
        if value.unit not in (WireUnit.MM, WireUnit.INCH):
            return True
        return bool(
            (isinstance(value, PatternValue) and value.units)
            or (isinstance(value, DigitsValue) and value.inch is not None)
        )

    @property
    def unit_is_shown(self) -> bool:
        """Whether another unit changes the form of its frames at least: where its point is shown."""
        value = self.value
        if isinstance(value, PatternValue):
            return self.unit_is_told or (value.shown_decimals > 0 and not value.has_power)
        has_point = isinstance(value, DigitsValue) and value.point is not None and not self.manner.by_hand
        return self.unit_is_told or has_point
