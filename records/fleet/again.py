"""What was refused, tried once more: by a newer writer, or since a key was accepted."""

from __future__ import annotations

import zlib
from collections.abc import Collection, Iterator, Sequence

from sqlalchemy import text

from records.fleet.arriving import BATCH_MAX
from records.fleet.database import Fleet
from records.fleet.filing import Filing
from records.fleet.held import put
from records.fleet.reading import Reason
from records.fleet.tables import TAKEN_UP

MENDED: tuple[Reason, ...] = ("newer", "other-key", "unknown-bay", "unfit")
"""Reasons that go away without the message being another."""


def try_again(fleet: Fleet, filing: Filing, reasons: Collection[Reason] = MENDED) -> tuple[int, int]:
    """How many messages were taken up, and how many are refused still. May be interrupted, and run again.
    Raises RecordsUnavailableError."""
    taken = held = 0
    for rows in _refused(fleet, reasons):
        messages = {(topic, zlib.decompress(payload)): sha256 for topic, sha256, payload in rows}
        declined = {(one.topic, one.payload) for one in filing.file(messages).declined}
        good = [
            {"topic": topic, "sha256": sha256}
            for (topic, payload), sha256 in messages.items()
            if (topic, payload) not in declined
        ]
        with fleet.transaction() as connection:
            put(connection, TAKEN_UP, good)
        taken += len(good)
        held += len(messages) - len(good)
    return taken, held


def _refused(fleet: Fleet, reasons: Collection[Reason]) -> Iterator[Sequence[tuple[str, str, bytes]]]:
    """By topic and hash, some at a time: results of a bay before those of the next."""
    after = "", ""
    while True:
        with fleet.transaction() as connection:
            where = {"reasons": list(reasons), "topic": after[0], "sha256": after[1], "most": BATCH_MAX}
            rows = [(topic, sha256, payload) for topic, sha256, payload in connection.execute(_STILL, where)]
        if not rows:
            return
        yield rows
        after = rows[-1][0], rows[-1][1]


_STILL = text(
    "SELECT topic, sha256, (array_agg(payload))[1] FROM fleet_refused_still WHERE reason = ANY(:reasons)"
    " AND (topic, sha256) > (:topic, :sha256) GROUP BY topic, sha256 ORDER BY topic, sha256 LIMIT :most"
)
