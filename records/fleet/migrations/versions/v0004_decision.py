"""A signer's own decision stands in a column beside the verdict, and in the views what counts."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from typing import Any

from alembic import op
from pydantic_core import from_json
from sqlalchemy import Connection, text

revision = "0004"
down_revision = "0003"

AT_ONCE = 200
"""Documents that are fetched in one go: some 3 kB each, as they are stored."""

_TABLES = """
-- What a writer of before would leave empty must not look as if nobody had decided otherwise: one that is
-- still at work is stopped by the column that it does not fill, and then finds what the tables' version is.
CREATE FUNCTION fleet_by_an_older_writer() RETURNS text LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'an older writer, which does not know of decisions: start a newer one';
END $$;
ALTER TABLE fleet_results ADD COLUMN decision text;
ALTER TABLE fleet_results ALTER COLUMN decision SET DEFAULT fleet_by_an_older_writer();
"""
_VIEWS = """
-- ended: what counts, the signer's decision before the verdict.
CREATE OR REPLACE VIEW fleet_checks AS
    SELECT r.site, r.bay, r.inspection, r.revision, c.check_name, r.month, r.opened, r.closed, r.state,
        r.verdict, r.engine, r.damper, r.method_id, r.method_version, r.method_sha256,
        c.gauge, c.outcome, c.limit_mm, c.tir_mm, c.true_mm, c.u_mm, c.p_over,
        r.decision, coalesce(r.decision, r.verdict) AS ended
    FROM fleet_results AS r CROSS JOIN LATERAL unnest(
        r.checks, r.gauges, r.outcomes, r.limits_mm, r.tirs_mm, r.trues_mm, r.us_mm, r.ps_over
    ) AS c(check_name, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over);
CREATE OR REPLACE VIEW fleet_latest AS
    SELECT DISTINCT ON (site, bay, inspection) *, coalesce(decision, verdict) AS ended
    FROM fleet_results AS r WHERE EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (r.site, r.bay, r.inspection, r.revision)
    ) ORDER BY site, bay, inspection, revision DESC;
CREATE OR REPLACE VIEW fleet_latest_checks AS
    SELECT c.* FROM fleet_checks AS c JOIN (
        SELECT r.site, r.bay, r.inspection, max(r.revision) AS revision FROM fleet_revisions AS r
        JOIN fleet_chain AS c USING (site, bay, inspection, revision) GROUP BY r.site, r.bay, r.inspection
    ) AS latest USING (site, bay, inspection, revision);
"""
_OF = "site", "bay", "inspection", "revision", "month"
# Our own names alone (S608).
_NEXT = text(
    f"SELECT {', '.join(_OF)}, document FROM fleet_results"  # noqa: S608 of constants alone
    f" WHERE month = :month AND ({', '.join(_OF[:4])}) > (:site, :bay, :inspection, :revision)"
    f" ORDER BY {', '.join(_OF[:4])} LIMIT :most"
)
_FILL = text(
    f"UPDATE fleet_results SET decision = :decision WHERE ({', '.join(_OF)})"  # noqa: S608 of constants alone
    f" = ({', '.join(f':{name}' for name in _OF)})"
)


def upgrade() -> None:
    """Make it so, of what is kept too."""
    connection = op.get_bind()
    for script in (_TABLES, _VIEWS):
        connection.exec_driver_sql(script.replace("%", "%%"))
    for rows in _kept(connection):
        decided = [row | {"decision": said} for row in rows if (said := _decision(row.pop("document")))]
        if decided:
            connection.execute(_FILL, decided)


def _kept(connection: Connection) -> Iterator[Sequence[dict[str, Any]]]:
    """Results, a month's at a time, some at a time."""
    months = connection.execute(text("SELECT DISTINCT month FROM fleet_revisions ORDER BY 1")).scalars().all()
    for month in months:
        after: dict[str, Any] = {"site": "", "bay": "", "inspection": "", "revision": -1}
        while True:
            found = connection.execute(_NEXT, after | {"month": month, "most": AT_ONCE})
            rows = [dict(row) for row in found.mappings()]
            if not rows:
                break
            after = {name: rows[-1][name] for name in _OF[:4]}
            yield rows


def _decision(document: bytes) -> str | None:
    """As the result says; most say none, and are not parsed."""
    content = zlib.decompress(document)
    if b'"decision"' not in content and b"\\u" not in content:
        return None
    said = from_json(content).get("decision")
    return said if isinstance(said, str) else None
