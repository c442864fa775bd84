"""Whose key signs for which bay."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection

from config.writer import BaysSettings
from records.fleet.held import keep_keys
from records.fleet.proving import proven
from records.fleet.reading import Bay, Document, Read, Reason, Record, Refused, Told


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
        self, connection: Connection, messages: Sequence[Read], known: dict[Bay, set[str]]
    ) -> Sequence[Read]:
        """The messages, those refused whose bay or key is not known. Of a bay without a key the first is
        kept, where that is the rule. known: the keys that the database holds."""
        for bay, keys in self._pinned.items():
            known[bay] |= keys
        if _are_known(messages, known):
            return messages
        first: dict[Bay, str] = {}
        admitted = [self._admitted(one, known, first) for one in messages]
        keep_keys(connection, first, "first")
        return admitted

    def _admitted(self, one: Read, known: dict[Bay, set[str]], first: dict[Bay, str]) -> Read:
        """first: keys that are kept from now on."""
        if isinstance(one, Refused):
            return one
        bay = one.bay
        keys = known.get(bay)
        if not keys and self._only_pinned:
            return _refused(one, "unknown-bay", "it has no key under [bays] keys")
        if isinstance(one, Document) or (keys and one.said.key in keys):
            return one
        if isinstance(one, Told) and not one.is_proven:
            found = proven(one)
            return found if isinstance(found, Refused) else self._admitted(found, known, first)
        if keys:
            others = ", ".join(sorted(key[:16] for key in keys))
            why = f"it is signed by {one.said.key}, and its bay's is {others}…"
            return _refused(one, "other-key", why)
        first[bay] = one.said.key
        known[bay] = {one.said.key}
        return one


def _are_known(messages: Sequence[Read], known: dict[Bay, set[str]]) -> bool:
    """Whether each is of a bay, and signed by a key of its own; so it is as a rule, and found at once."""
    found = {
        (one.bay, None if isinstance(one, Document) else one.said.key)
        for one in messages
        if not isinstance(one, Refused)
    }
    return all((keys := known.get(bay)) and (key is None or key in keys) for bay, key in found)


def _refused(one: Document | Record | Told, reason: Reason, why: str) -> Refused:
    return Refused(one.topic, one.payload, reason, why)
