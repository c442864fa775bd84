"""A `keep` after which its bay issued another result is none any more, though that one has not come."""

from __future__ import annotations

from alembic import op

revision = "0007"
down_revision = "0006"

_LATER = """
    EXISTS (
        SELECT FROM fleet_chain AS l WHERE (l.site, l.bay, l.inspection) = (r.site, r.bay, r.inspection)
        AND l.revision > r.revision
    )
"""
_VIEWS = f"""
-- ended: as of each revision (fleet_checks), but NULL of a keep where the chain names a later result that is
-- not here: nobody here knows what that came to.
CREATE OR REPLACE VIEW fleet_latest AS
    SELECT DISTINCT ON (site, bay, inspection) r.*, CASE WHEN EXISTS (
        SELECT FROM fleet_breaks AS b WHERE (b.site, b.bay, b.inspection) = (r.site, r.bay, r.inspection)
        AND b.what IN ('altered-document', 'record-twice')
    ) OR (coalesce(r.decision, r.verdict) = 'keep' AND {_LATER})
    THEN NULL WHEN r.state IN ('closed', 'signed') OR (
        r.state = 'abandoned' AND r.closed IS NOT NULL
        AND coalesce(r.decision, r.verdict) IN ('replace', 'measure-again')
    ) THEN coalesce(r.decision, r.verdict) END AS ended
    FROM fleet_results AS r WHERE EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (r.site, r.bay, r.inspection, r.revision)
    ) ORDER BY site, bay, inspection, revision DESC;
CREATE OR REPLACE VIEW fleet_latest_checks AS
    SELECT r.site, r.bay, r.inspection, r.revision, r.check_name, r.month, r.opened, r.closed, r.state,
        r.verdict, r.engine, r.damper, r.method_id, r.method_version, r.method_sha256,
        r.gauge, r.outcome, r.limit_mm, r.tir_mm, r.true_mm, r.u_mm, r.p_over, r.decision,
        CASE WHEN r.ended = 'keep' AND {_LATER} THEN NULL ELSE r.ended END AS ended
    FROM fleet_checks AS r JOIN (
        SELECT v.site, v.bay, v.inspection, max(v.revision) AS revision FROM fleet_revisions AS v
        JOIN fleet_chain AS c USING (site, bay, inspection, revision) GROUP BY v.site, v.bay, v.inspection
    ) AS latest USING (site, bay, inspection, revision);
"""  # noqa: S608 of constants alone


def upgrade() -> None:
    """Make it so."""
    op.get_bind().exec_driver_sql(_VIEWS.replace("%", "%%"))
