"""How a fleet's records stand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import text

from records.fleet.database import Fleet


@dataclass(frozen=True, slots=True)
class Standing:
    """results: revisions; unproven: those of them whose record in the chain has not come, the oldest since
    when. missing: records whose result has not come. behind: chains of which a checkpoint tells more records
    than were walked. refused: messages by reason; latest_refused: of each reason the latest; let_go: what was
    refused and is kept no more, by reason. breaks: in the order in which they were found. latest: when the
    last result came. months: of which there are partitions."""

    results: int
    inspections: int
    bays: int
    records: int
    latest: str | None
    unproven: int
    unproven_since: str | None
    missing: int
    behind: list[dict[str, Any]]
    refused: dict[str, int]
    latest_refused: list[dict[str, str]]
    let_go: list[dict[str, Any]]
    breaks: list[dict[str, Any]]
    months: list[str]


def standing(fleet: Fleet) -> Standing:
    """Now. Raises RecordsUnavailableError."""
    with fleet.transaction() as connection:
        counted = connection.execute(_COUNTED).mappings().one()
        return Standing(
            **counted,
            behind=[dict(row) for row in connection.execute(_BEHIND).mappings()],
            refused={str(row.reason): int(row.number) for row in connection.execute(_REFUSED)},
            latest_refused=[dict(row) for row in connection.execute(_LATEST).mappings()],
            let_go=[dict(row) for row in connection.execute(_LET_GO).mappings()],
            breaks=[dict(row) for row in connection.execute(_BREAKS).mappings()],
            months=list(connection.execute(_MONTHS).scalars()),
        )


# Statements are put together of our own names alone (S608); nothing comes into them from outside.
def _utc(moment: str) -> str:
    return f"""to_char({moment} AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"')"""


_COUNTED = text(
    f"""
    SELECT (SELECT count(*) FROM fleet_revisions) AS results,
        (SELECT count(*) FROM (SELECT DISTINCT site, bay, inspection FROM fleet_revisions) AS i)
            AS inspections,
        (SELECT count(*) FROM (SELECT site, bay FROM fleet_bay_keys
            UNION SELECT site, bay FROM fleet_revisions) AS b) AS bays,
        (SELECT count(*) FROM fleet_chain) AS records,
        (SELECT {_utc("max(stored)")} FROM fleet_revisions) AS latest,
        (SELECT count(*) FROM fleet_unproven) AS unproven,
        (SELECT {_utc("min(stored)")} FROM fleet_unproven) AS unproven_since,
        (SELECT count(*) FROM fleet_missing) AS missing
    """  # noqa: S608 of constants alone
)
_BEHIND = text("SELECT site, bay, chain, walked, told FROM fleet_chains WHERE told > walked ORDER BY 1, 2, 3")
_REFUSED = text("SELECT reason, count(*) AS number FROM fleet_refused_still GROUP BY reason ORDER BY reason")
_LATEST = text(
    "SELECT DISTINCT ON (reason) reason, topic, why, sha256"  # noqa: S608 of constants alone
    f", {_utc('stored')} AS stored FROM fleet_refused_still ORDER BY reason, fleet_refused_still.stored DESC"
)
_LET_GO = text(
    f"SELECT reason, number, bytes, {_utc('latest')} AS latest FROM fleet_refused_gone ORDER BY reason"  # noqa: S608 of constants alone
)
_BREAKS = text(
    f"SELECT site, bay, chain, place, what, why, inspection, revision, {_utc('stored')} AS found"  # noqa: S608 of constants alone
    " FROM fleet_breaks ORDER BY stored, site, bay, chain, place, what"
)
_MONTHS = text(
    "SELECT replace(right(c.relname, 7), '_', '-') FROM pg_inherits AS i JOIN pg_class AS c"
    " ON c.oid = i.inhrelid WHERE i.inhparent = 'fleet_results'::regclass ORDER BY 1"
)
