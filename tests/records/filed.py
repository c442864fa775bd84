"""A fleet's database of a test's own, and what stands in it."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import text

from config.writer import BaysSettings
from records.fleet.bays import Bays
from records.fleet.database import Fleet
from records.fleet.filing import Filing
from tests.parts.postgres import Postgres

NOW = datetime(2026, 11, 26, 6, 0, tzinfo=UTC)

TABLES = {
    "results": "SELECT site, bay, inspection, revision, month, verdict, engine, document FROM fleet_results",
    "revisions": "SELECT site, bay, inspection, revision, sha256, month FROM fleet_revisions",
    "checks": "SELECT site, bay, inspection, revision, check_name, outcome, true_mm, u_mm FROM fleet_checks",
    "chain": "SELECT site, bay, chain, place, sha256 FROM fleet_chain",
    "walked": "SELECT DISTINCT ON (site, bay, chain) site, bay, chain, size, root, last FROM fleet_walked"
    " ORDER BY site, bay, chain, size DESC",
    "checkpoints": "SELECT DISTINCT ON (site, bay, chain) site, bay, chain, size, root"
    " FROM fleet_checkpoints ORDER BY site, bay, chain, size DESC",
    "breaks": "SELECT site, bay, chain, place, what FROM fleet_breaks",
    "refused": "SELECT topic, sha256, reason FROM fleet_refused_still",
    "keys": "SELECT site, bay, key FROM fleet_bay_keys",
}
"""What must be the same whatever way the same messages came: of walks and checkpoints the largest, as of
those of one batch no other need be kept."""


class Database:
    """url: its address. fleet: it, as a writer has it."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.fleet = Fleet(url)

    def filing(self, **settings: Any) -> Filing:
        """A writer's, on a wall clock that stands still."""
        return Filing(self.fleet, Bays(BaysSettings(**settings)), lambda: NOW)

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        with self.fleet.transaction() as connection:
            return [tuple(row) for row in connection.execute(text(query))]

    def all(self) -> dict[str, list[tuple[Any, ...]]]:
        """All that must be the same."""
        return {name: sorted(self.rows(query), key=repr) for name, query in TABLES.items()}

    def documents(self) -> dict[tuple[str, str, int], bytes]:
        """By bay, inspection and revision."""
        found = self.rows("SELECT bay, inspection, revision, document FROM fleet_results")
        return {(a, b, c): zlib.decompress(document) for a, b, c, document in found}

    def refused(self) -> list[tuple[str, str]]:
        """Reason and topic."""
        return sorted(self.rows("SELECT reason, topic FROM fleet_refused_still"))

    def proven(self) -> int:
        """Results whose record is there."""
        ((number,),) = self.rows(
            "SELECT (SELECT count(*) FROM fleet_revisions) - (SELECT count(*) FROM fleet_unproven)"
        )
        return int(number)


@contextmanager
def database(postgres: Postgres) -> Iterator[Database]:
    """A new one, with its tables: a copy of the first."""
    if "fleet" not in postgres.prepared:
        with closing(Database(postgres.make("fleet")).fleet) as fleet:
            fleet.prepare()
        postgres.prepared.add("fleet")
    made = Database(postgres.make(template="fleet"))
    with closing(made.fleet):
        yield made
