"""What the daemon says of itself and of its gauges: status, a gauge's state, each reading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from contract.terms import PublicState
from contract.units import Unit, value_field
from contract.wire import Message, encode


class StatusMessage(Message):
    """warnings: where something about the daemon needs a person; left out where nothing does."""

    state: Literal["online", "offline"]
    warnings: tuple[str, ...] = ()


class ReadingMessage(Message):
    """One reading: one of the three values is there, by what the gauge measures. t_ns: monotonic. t_u_ns: how
    uncertain that is (standard) where it could not be read as it came; left out: it was."""

    seq: int
    t_ns: int
    t_u_ns: int | None = None
    value_mm: float | None = None
    value_deg: float | None = None
    count: int | None = None


class GaugeStateMessage(Message):
    """A gauge's state, why, since when (RFC 3339), and the last reading before, to be shown as past.

    measures, sends: what its profile says of it, so that a display offers it where it fits.
    """

    state: PublicState
    reason: str
    since: str
    last: ReadingMessage | None = None
    measures: Literal["length", "angle"] | None = None
    sends: Literal["free-running", "requested", "key-press"] | None = None


def status_payload(state: Literal["online", "offline"], warnings: Sequence[str] = ()) -> bytes:
    """As JSON."""
    return encode(StatusMessage(state=state, warnings=tuple(warnings)).model_dump(exclude_defaults=True))


def reading_message(seq: int, time_ns: int, value: int, unit: Unit, u_ns: int = 0) -> ReadingMessage:
    """One reading under its public names."""
    name, shown = value_field(value, unit)
    return ReadingMessage.model_validate({"seq": seq, "t_ns": time_ns, "t_u_ns": u_ns or None, name: shown})


def reading_payload(seq: int, time_ns: int, value: int, unit: Unit, u_ns: int = 0) -> bytes:
    """As JSON; written out, as every reading passes here."""
    name, shown = value_field(value, unit)
    late = f'"t_u_ns":{u_ns},' if u_ns else ""
    return f'{{"seq":{seq},"t_ns":{time_ns},{late}"{name}":{shown!r}}}'.encode()


def gauge_state_payload(message: GaugeStateMessage) -> bytes:
    """As JSON; `last` is null where there was none."""
    said = message.model_dump(exclude={"last"}, exclude_none=True)
    said["last"] = None if message.last is None else message.last.model_dump(exclude_none=True)
    return encode(said)
