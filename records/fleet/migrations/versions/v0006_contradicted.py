"""An inspection of which a bay and its copy issued results that contradict each other ended in nothing."""

from __future__ import annotations

from alembic import op

revision = "0006"
down_revision = "0005"

_ENDED = """
    CASE WHEN EXISTS (
        SELECT FROM fleet_breaks AS b WHERE (b.site, b.bay, b.inspection) = (r.site, r.bay, r.inspection)
        AND b.what IN ('altered-document', 'record-twice')
    ) THEN NULL WHEN r.state IN ('closed', 'signed') OR (
        r.state = 'abandoned' AND r.closed IS NOT NULL
        AND coalesce(r.decision, r.verdict) IN ('replace', 'measure-again')
    ) THEN coalesce(r.decision, r.verdict) END AS ended
"""
_VIEWS = f"""
-- ended: what counts. NULL too where two records of a bay's chains name different documents of a revision, or
-- stand for one place of a chain: one of the results is on record, the other is as true.
CREATE OR REPLACE VIEW fleet_checks AS
    SELECT r.site, r.bay, r.inspection, r.revision, c.check_name, r.month, r.opened, r.closed, r.state,
        r.verdict, r.engine, r.damper, r.method_id, r.method_version, r.method_sha256,
        c.gauge, c.outcome, c.limit_mm, c.tir_mm, c.true_mm, c.u_mm, c.p_over,
        r.decision, {_ENDED}
    FROM fleet_results AS r CROSS JOIN LATERAL unnest(
        r.checks, r.gauges, r.outcomes, r.limits_mm, r.tirs_mm, r.trues_mm, r.us_mm, r.ps_over
    ) AS c(check_name, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over);
CREATE OR REPLACE VIEW fleet_latest AS
    SELECT DISTINCT ON (site, bay, inspection) r.*, {_ENDED}
    FROM fleet_results AS r WHERE EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (r.site, r.bay, r.inspection, r.revision)
    ) ORDER BY site, bay, inspection, revision DESC;
"""  # noqa: S608 of constants alone


def upgrade() -> None:
    """Make it so."""
    op.get_bind().exec_driver_sql(_VIEWS.replace("%", "%%"))
