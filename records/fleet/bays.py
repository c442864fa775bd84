"""Whose key signs for which bay."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection

from config.writer import BaysSettings
from records.fleet.held import keep_key
from records.fleet.reading import Bay, Document, Read, Reason, Record, Refused, Told


def bay_of(one: Document | Record | Told) -> Bay:
    """Whose message it is."""
    return one.said.site, one.said.bay


class Bays:
    """What the configuration pins, and what the database has kept."""

    def __init__(self, settings: BaysSettings) -> None:
        self._pinned = {
            (site, bay): frozenset(keys)
            for name, keys in settings.keys.items()
            for site, bay in [name.split("/")]
        }
        self._only_pinned = settings.trust == "pinned"

    def admit(
        self, connection: Connection, messages: Iterable[Read], known: dict[Bay, set[str]]
    ) -> list[Read]:
        """The messages, those refused whose bay or key is not known. Of a bay without a key the first is
        kept, where that is the rule. known: the keys that the database holds."""
        for bay, keys in self._pinned.items():
            known[bay] |= keys
        return [self._admitted(connection, one, known) for one in messages]

    def _admitted(self, connection: Connection, one: Read, known: dict[Bay, set[str]]) -> Read:
        if isinstance(one, Refused):
            return one
        bay = bay_of(one)
        keys = known.get(bay, set())
        if not keys and self._only_pinned:
            return _refused(one, "unknown-bay", "it has no key under [bays] keys")
        if isinstance(one, Document) or one.said.key in keys:
            return one
        if keys:
            others = ", ".join(sorted(key[:16] for key in keys))
            why = f"it is signed by {one.said.key}, and its bay's is {others}…"
            return _refused(one, "other-key", why)
        keep_key(connection, bay, one.said.key, "first")
        known[bay] = {one.said.key}
        return one


def _refused(one: Document | Record | Told, reason: Reason, why: str) -> Refused:
    return Refused(one.topic, one.payload, reason, why)
