"""What an inspection ended in is told of one that has ended, and where nothing on record says otherwise."""

from __future__ import annotations

from alembic import op

revision = "0005"
down_revision = "0004"

_ENDED = """
    CASE WHEN EXISTS (
        SELECT FROM fleet_breaks AS b WHERE (b.site, b.bay, b.inspection) = (r.site, r.bay, r.inspection)
        AND b.what IN ('altered-document', 'record-twice')
    ) THEN NULL WHEN r.state IN ('closed', 'signed') OR (
        r.state = 'abandoned' AND r.closed IS NOT NULL
        AND coalesce(r.decision, r.verdict) IN ('replace', 'measure-again')
    ) THEN coalesce(r.decision, r.verdict) END AS ended
"""
_LATER = """
    EXISTS (
        SELECT FROM fleet_chain AS l WHERE (l.site, l.bay, l.inspection) = (r.site, r.bay, r.inspection)
        AND l.revision > r.revision
    )
"""
_VIEWS = f"""
-- ended: what counts, the signer's decision before the verdict; NULL of what is open, and of what was given
-- up, unless it was closed before with what must not be forgotten. NULL too where two records of a bay's
-- chains name different documents of a revision, or stand for one place of a chain: one of the results is on
-- record, the other is as true. Of the latest revision NULL of a keep as well where the chain names a later
-- result that is not here: nobody here knows what that came to.
CREATE OR REPLACE VIEW fleet_checks AS
    SELECT r.site, r.bay, r.inspection, r.revision, c.check_name, r.month, r.opened, r.closed, r.state,
        r.verdict, r.engine, r.damper, r.method_id, r.method_version, r.method_sha256,
        c.gauge, c.outcome, c.limit_mm, c.tir_mm, c.true_mm, c.u_mm, c.p_over,
        r.decision, {_ENDED}
    FROM fleet_results AS r CROSS JOIN LATERAL unnest(
        r.checks, r.gauges, r.outcomes, r.limits_mm, r.tirs_mm, r.trues_mm, r.us_mm, r.ps_over
    ) AS c(check_name, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over);
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
