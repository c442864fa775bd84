"""What is told of each event of an inspection, as it is journalled."""

from __future__ import annotations

from pydantic import ConfigDict

from contract.wire import Message


class EventMessage(Message):
    """What all events say. seq: its place in the bay's journal. time: RFC 3339; t_ns: monotonic. Further keys
    by its kind `event`, lengths in mm, angles in degrees; of a method only id, version and hash."""

    model_config = ConfigDict(extra="allow", frozen=True)
    event: str
    seq: int
    inspection: str
    time: str
    t_ns: int
    operator: str | None = None
