"""A result's checks stand in its own row; what comes in order is found by a few bytes for many rows."""

from __future__ import annotations

from alembic import op

revision = "0003"
down_revision = "0002"

_CHECKS = """
-- Of a result that was dropped without its checks they would be lost.
DO $$
BEGIN
    IF EXISTS (
        SELECT FROM fleet_checks AS c WHERE NOT EXISTS (
            SELECT FROM fleet_results AS r WHERE (r.site, r.bay, r.inspection, r.revision, r.month)
            = (c.site, c.bay, c.inspection, c.revision, c.month)
        )
    ) THEN
        RAISE EXCEPTION 'checks without their result: detach these months of fleet_checks too, then again';
    END IF;
END $$;
ALTER TABLE fleet_checks RENAME TO fleet_checks_before;
ALTER TABLE fleet_results
    ADD COLUMN checks text[], ADD COLUMN gauges text[], ADD COLUMN outcomes text[],
    ADD COLUMN limits_mm double precision[], ADD COLUMN tirs_mm double precision[],
    ADD COLUMN trues_mm double precision[], ADD COLUMN us_mm double precision[],
    ADD COLUMN ps_over double precision[];
UPDATE fleet_results AS r
SET (checks, gauges, outcomes, limits_mm, tirs_mm, trues_mm, us_mm, ps_over) = (
    SELECT coalesce(array_agg(check_name ORDER BY check_name), '{}'),
        coalesce(array_agg(gauge ORDER BY check_name), '{}'),
        coalesce(array_agg(outcome ORDER BY check_name), '{}'),
        coalesce(array_agg(limit_mm ORDER BY check_name), '{}'),
        coalesce(array_agg(tir_mm ORDER BY check_name), '{}'),
        coalesce(array_agg(true_mm ORDER BY check_name), '{}'),
        coalesce(array_agg(u_mm ORDER BY check_name), '{}'),
        coalesce(array_agg(p_over ORDER BY check_name), '{}')
    FROM fleet_checks_before AS c WHERE (c.site, c.bay, c.inspection, c.revision, c.month)
    = (r.site, r.bay, r.inspection, r.revision, r.month)
);
ALTER TABLE fleet_results
    ALTER COLUMN checks SET NOT NULL, ALTER COLUMN gauges SET NOT NULL, ALTER COLUMN outcomes SET NOT NULL,
    ALTER COLUMN limits_mm SET NOT NULL, ALTER COLUMN tirs_mm SET NOT NULL,
    ALTER COLUMN trues_mm SET NOT NULL, ALTER COLUMN us_mm SET NOT NULL, ALTER COLUMN ps_over SET NOT NULL;
CREATE VIEW fleet_checks AS
    SELECT r.site, r.bay, r.inspection, r.revision, c.check_name, r.month, r.opened, r.closed, r.state,
        r.verdict, r.engine, r.damper, r.method_id, r.method_version, r.method_sha256,
        c.gauge, c.outcome, c.limit_mm, c.tir_mm, c.true_mm, c.u_mm, c.p_over
    FROM fleet_results AS r CROSS JOIN LATERAL unnest(
        r.checks, r.gauges, r.outcomes, r.limits_mm, r.tirs_mm, r.trues_mm, r.us_mm, r.ps_over
    ) AS c(check_name, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over);
-- The latest revision that the bay's chain vouches for: another's overrules none that the bay has signed.
CREATE OR REPLACE VIEW fleet_latest AS
    SELECT DISTINCT ON (site, bay, inspection) * FROM fleet_results AS r WHERE EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (r.site, r.bay, r.inspection, r.revision)
    ) ORDER BY site, bay, inspection, revision DESC;
CREATE OR REPLACE VIEW fleet_latest_checks AS
    SELECT c.* FROM fleet_checks AS c JOIN (
        SELECT r.site, r.bay, r.inspection, max(r.revision) AS revision FROM fleet_revisions AS r
        JOIN fleet_chain AS c USING (site, bay, inspection, revision) GROUP BY r.site, r.bay, r.inspection
    ) AS latest USING (site, bay, inspection, revision);
"""
_RIGHTS = """
-- Whoever could read the checks still can.
DO $$
DECLARE
    one record;
BEGIN
    FOR one IN SELECT CASE a.grantee WHEN 0 THEN 'PUBLIC' ELSE a.grantee::regrole::text END AS who
        FROM pg_class AS c, aclexplode(c.relacl) AS a
        WHERE c.oid = 'fleet_checks_before'::regclass AND a.privilege_type = 'SELECT'
        AND a.grantee <> c.relowner
    LOOP
        EXECUTE format('GRANT SELECT ON fleet_checks TO %s', one.who);
    END LOOP;
END $$;
DROP TABLE fleet_checks_before;
"""
_FUNCTIONS = """
CREATE OR REPLACE FUNCTION fleet_make_month(wanted date) RETURNS void LANGUAGE plpgsql SECURITY DEFINER
SET search_path = SCHEMA, pg_temp AS $$
DECLARE
    first date := date_trunc('month', wanted)::date;
    part text := 'fleet_results' || to_char(first, '_YYYY_MM');
BEGIN
    PERFORM pg_advisory_xact_lock(1381254221);
    IF to_regclass(part) IS NULL THEN
        EXECUTE format('CREATE TABLE %I (LIKE fleet_results INCLUDING DEFAULTS)', part);
        EXECUTE format('ALTER TABLE %I ALTER COLUMN document SET STORAGE EXTERNAL', part);
        EXECUTE format('ALTER TABLE fleet_results ATTACH PARTITION %I FOR VALUES FROM (%L) TO (%L)',
            part, first, (first + interval '1 month')::date);
    END IF;
END $$;
CREATE OR REPLACE FUNCTION fleet_withdraw(
    of_site text, of_bay text, of_inspection text, of_revision integer
) RETURNS bytea LANGUAGE plpgsql SECURITY DEFINER SET search_path = SCHEMA, pg_temp AS $$
DECLARE
    held fleet_revisions;
    gone bytea;
BEGIN
    SELECT * INTO held FROM fleet_revisions
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision);
    IF held IS NULL OR NOT EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (of_site, of_bay, of_inspection, of_revision)
    ) OR EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (of_site, of_bay, of_inspection, of_revision)
        AND c.document_sha256 = held.sha256
    ) THEN
        RETURN NULL;
    END IF;
    DELETE FROM fleet_results
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision)
    AND month = held.month RETURNING document INTO gone;
    DELETE FROM fleet_revisions
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision);
    RETURN gone;
END $$;
"""
_INDEXES = """
-- Rows come in the order of their time: where those of a day lie, a line for many pages tells.
DROP INDEX ix_fleet_revisions_stored, ix_fleet_chain_stored;
CREATE INDEX ix_fleet_revisions_stored ON fleet_revisions USING brin (stored) WITH (autosummarize = on);
CREATE INDEX ix_fleet_chain_stored ON fleet_chain USING brin (stored) WITH (autosummarize = on);
"""


def upgrade() -> None:
    """Make it so."""
    connection = op.get_bind()
    # What runs with its owner's rights must not find tables of the caller's own making.
    schema = connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    for script in (_CHECKS, _RIGHTS, _FUNCTIONS, _INDEXES):
        connection.exec_driver_sql(script.replace("SCHEMA", schema).replace("%", "%%"))
