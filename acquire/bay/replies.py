"""Replies that were given: a request that comes again is answered again, and not done again."""

from __future__ import annotations

import json

from acquire.bay.asked import Reply
from acquire.errors import CommandRefusedError
from acquire.journal.writer import Journal

# Replies remembered beside the journal, for repeats that come before the first is committed.
REMEMBERED = 1_000


class Replies:
    """Of one bay: the latest, and those that its journal keeps."""

    def __init__(self, journal: Journal) -> None:
        self._journal = journal
        self._latest: dict[str, Reply] = {}

    def given(self, name: str, request: str | None, asked: str) -> Reply | None:
        """What a request was answered before; None: nothing. asked: the fingerprint of what it asks now.
        Raises CommandRefusedError where its id was another's."""
        if request is None:
            return None
        before = self._latest.get(request)
        if before is None:
            stored = self._journal.reply(request)
            before = None if stored is None else Reply(request, stored)
        # Replies of earlier versions do not say what was asked.
        if before is not None and json.loads(before.payload).get("asked", asked) != asked:
            text = f"{name}: the id {request} was used for another command; give each an id of its own"
            raise CommandRefusedError("id-reused", text)
        return before

    def remember(self, reply: Reply) -> Reply:
        """One that is given now."""
        self._latest[reply.request] = reply
        if len(self._latest) > REMEMBERED:
            del self._latest[next(iter(self._latest))]
        return reply
