"""What goes out because of the journal: events and results as messages, and the queue for their senders."""

from __future__ import annotations

import asyncio
from collections.abc import Collection, Sequence
from typing import Any

from acquire.aside import Aside
from acquire.journal.events import Event, Opened, body_of
from acquire.journal.outgoing import Destination, Outgoing
from acquire.journal.reader import OutboxRow
from acquire.journal.writer import Journal
from contract.events import EventMessage
from contract.topics import Topics
from contract.units import NM_PER_MM, UDEG_PER_DEG
from contract.wire import encode

_PUBLIC = {"_nm": ("_mm", NM_PER_MM), "_udeg": ("_deg", UDEG_PER_DEG), "_ns": ("_s", 1_000_000_000)}


class Outbox:
    """The journal's messages for one destination; off the loop, so that a slow disk stops nobody."""

    def __init__(self, journal: Journal, destination: Destination, aside: Aside = asyncio.to_thread) -> None:
        self._journal = journal
        self._aside = aside
        self._destination = destination

    async def pending(self, limit: int, without: Collection[int] = ()) -> Sequence[OutboxRow]:
        """The oldest messages that are not done, in order; only what is committed, and not those of
        the ids in `without`."""
        return await self._aside(self._journal.pending, self._destination, limit, frozenset(without))

    async def done(self, row_id: int) -> None:
        """A message was delivered."""
        self._journal.done(row_id)


def event_message(topics: Topics, event: Event, utc: str) -> Outgoing:
    """One event as others read it: `event` (its kind), `seq`, `time`, `t_ns`, `operator`, and what it says.

    A whole method is too large for a message: its id, version and hash stand for it.
    """
    said = body_of(event)
    if isinstance(event, Opened):
        method = said.pop("method")
        said["method"] = {
            "id": method.get("id"), "version": method.get("version"), "sha256": said.pop("method_sha256"),
        }  # fmt: skip
        said |= said.pop("header")
        said.pop("opened")  # it is the message's own time
    message = EventMessage(
        event=event.kind,
        seq=event.seq,
        inspection=event.inspection,
        time=utc,
        t_ns=event.time_ns,
        operator=event.operator,
        **_public(said),
    )
    return Outgoing("mqtt", topics.event(event.inspection), encode(message.model_dump()))


def result_messages(
    topics: Topics, inspection: str, document: bytes, *, is_latest: bool = True
) -> list[Outgoing]:
    """The messages that carry a result: under its inspection, to the records and, where it is of the
    bay's current or latest inspection, as the bay's result."""
    messages = [
        Outgoing("mqtt", topics.inspection_result(inspection), document),
        Outgoing("records", "", document),
    ]
    if is_latest:
        messages.insert(1, Outgoing("mqtt", topics.result, document, retain=True))
    return messages


def _public(value: Any) -> Any:
    """Whole nanometres and microdegrees under their public names: `value_nm` becomes `value_mm`."""
    if isinstance(value, dict):
        return dict(_public_item(key, item) for key, item in value.items())
    if isinstance(value, (list, tuple)):
        return [_public(item) for item in value]
    return value


def _public_item(key: str, value: Any) -> tuple[str, Any]:
    for ending, (public, per) in _PUBLIC.items():
        if key.endswith(ending) and isinstance(value, int):
            return key.removesuffix(ending) + public, value / per
        if key.endswith(ending) and value is None:
            return key.removesuffix(ending) + public, None
    return key, _public(value)
