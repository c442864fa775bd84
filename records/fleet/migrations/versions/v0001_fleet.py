"""The tables of a fleet's records, what makes their partitions, and what a reader is shown."""

from __future__ import annotations

from alembic import op

revision = "0001"
down_revision = None

_JUDGED = """
    opened timestamptz NOT NULL, closed timestamptz, state text NOT NULL, verdict text NOT NULL,
    engine text NOT NULL, damper text NOT NULL,
    method_id text NOT NULL, method_version text NOT NULL, method_sha256 text NOT NULL
"""
_TABLES = f"""
CREATE TABLE fleet_bay_keys (
    site text, bay text, key text, how text NOT NULL, stored timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (site, bay, key)
);
CREATE TABLE fleet_revisions (
    site text, bay text, inspection text, revision integer, sha256 text NOT NULL, month date NOT NULL,
    stored timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (site, bay, inspection, revision)
);
CREATE INDEX ix_fleet_revisions_stored ON fleet_revisions (stored);
CREATE TABLE fleet_results (
    site text, bay text, inspection text, revision integer, month date, {_JUDGED},
    software text NOT NULL, document bytea NOT NULL,
    PRIMARY KEY (site, bay, inspection, revision, month)
) PARTITION BY RANGE (month);
ALTER TABLE fleet_results ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE INDEX ix_fleet_results_engine ON fleet_results (engine, opened);
CREATE INDEX ix_fleet_results_damper ON fleet_results (damper, opened);
CREATE TABLE fleet_checks (
    site text, bay text, inspection text, revision integer, check_name text, month date, {_JUDGED},
    gauge text, outcome text NOT NULL, limit_mm double precision, tir_mm double precision,
    true_mm double precision, u_mm double precision, p_over double precision,
    PRIMARY KEY (site, bay, inspection, revision, check_name, month)
) PARTITION BY RANGE (month);
CREATE INDEX ix_fleet_checks_damper ON fleet_checks (damper, opened);
CREATE TABLE fleet_chain (
    site text, bay text, chain text, place integer, sha256 text NOT NULL, inspection text, revision integer,
    document_sha256 text, later boolean, after_chain text, after_size integer, after_root text,
    time text NOT NULL, stored timestamptz NOT NULL DEFAULT now(), record bytea NOT NULL,
    PRIMARY KEY (site, bay, chain, place)
);
CREATE INDEX ix_fleet_chain_revision ON fleet_chain (site, bay, inspection, revision);
CREATE INDEX ix_fleet_chain_stored ON fleet_chain (stored);
CREATE INDEX ix_fleet_chain_after ON fleet_chain (site, bay) WHERE after_chain IS NOT NULL;
CREATE TABLE fleet_walked (
    site text, bay text, chain text, size integer, root text NOT NULL, subtrees bytea NOT NULL,
    last text NOT NULL,
    PRIMARY KEY (site, bay, chain, size)
);
CREATE TABLE fleet_checkpoints (
    site text, bay text, chain text, size integer, root text, stored timestamptz NOT NULL DEFAULT now(),
    message bytea NOT NULL,
    PRIMARY KEY (site, bay, chain, size, root)
);
CREATE INDEX ix_fleet_checkpoints_stored ON fleet_checkpoints (stored);
CREATE TABLE fleet_breaks (
    site text, bay text, chain text, place integer, what text, why text NOT NULL, inspection text,
    revision integer, stored timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (site, bay, chain, place, what)
);
CREATE TABLE fleet_refused (
    sha256 text, topic text, reason text, why text NOT NULL, stored timestamptz NOT NULL DEFAULT now(),
    payload bytea NOT NULL,
    PRIMARY KEY (sha256, topic, reason)
);
CREATE INDEX ix_fleet_refused_reason ON fleet_refused (reason, stored);
CREATE TABLE fleet_taken_up (
    sha256 text, topic text, stored timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (sha256, topic)
);
CREATE TABLE fleet_asked (
    site text, bay text, asked timestamptz DEFAULT now(), since text NOT NULL, why text NOT NULL,
    PRIMARY KEY (site, bay, asked)
);
"""

_PARTITIONS = """
-- The month's partitions, where they are not there; one caller at a time, and with a lock that holds up
-- nobody who inserts (a table is attached; made as a partition it would). With its owner's rights: a writer
-- has none to make tables.
CREATE FUNCTION fleet_make_month(wanted date) RETURNS void LANGUAGE plpgsql SECURITY DEFINER
SET search_path = SCHEMA, pg_temp AS $$
DECLARE
    parent text;
    part text;
    first date := date_trunc('month', wanted)::date;
BEGIN
    PERFORM pg_advisory_xact_lock(1381254221);
    FOREACH parent IN ARRAY ARRAY['fleet_results', 'fleet_checks'] LOOP
        part := parent || to_char(first, '_YYYY_MM');
        IF to_regclass(part) IS NULL THEN
            EXECUTE format('CREATE TABLE %I (LIKE %I INCLUDING DEFAULTS)', part, parent);
            IF parent = 'fleet_results' THEN
                EXECUTE format('ALTER TABLE %I ALTER COLUMN document SET STORAGE EXTERNAL', part);
            END IF;
            EXECUTE format('ALTER TABLE %I ATTACH PARTITION %I FOR VALUES FROM (%L) TO (%L)',
                parent, part, first, (first + interval '1 month')::date);
        END IF;
    END LOOP;
END $$;
"""

_WITHDRAW = """
-- A result that came before its chain's record, and is not the one that the record names, leaves the results.
-- With its owner's rights, and for this alone: a writer has none to delete.
CREATE FUNCTION fleet_withdraw(of_site text, of_bay text, of_inspection text, of_revision integer)
RETURNS bytea LANGUAGE plpgsql SECURITY DEFINER SET search_path = SCHEMA, pg_temp AS $$
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
    DELETE FROM fleet_checks
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision)
    AND month = held.month;
    DELETE FROM fleet_results
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision)
    AND month = held.month RETURNING document INTO gone;
    DELETE FROM fleet_revisions
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision);
    RETURN gone;
END $$;
REVOKE EXECUTE ON FUNCTION fleet_make_month(date) FROM PUBLIC;
REVOKE EXECUTE ON FUNCTION fleet_withdraw(text, text, text, integer) FROM PUBLIC;
"""

_VIEWS = """
-- The latest revision of each inspection.
CREATE VIEW fleet_latest AS
    SELECT DISTINCT ON (site, bay, inspection) * FROM fleet_results
    ORDER BY site, bay, inspection, revision DESC;
CREATE VIEW fleet_latest_checks AS
    SELECT c.* FROM fleet_checks AS c JOIN (
        SELECT site, bay, inspection, max(revision) AS revision FROM fleet_revisions
        GROUP BY site, bay, inspection
    ) AS latest USING (site, bay, inspection, revision);
-- Results whose record in the bay's chain has not come yet.
CREATE VIEW fleet_unproven AS
    SELECT r.* FROM fleet_revisions AS r WHERE NOT EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (r.site, r.bay, r.inspection, r.revision)
    );
-- Records of chains whose result has not come yet.
CREATE VIEW fleet_missing AS
    SELECT c.* FROM fleet_chain AS c WHERE c.document_sha256 IS NOT NULL AND NOT EXISTS (
        SELECT FROM fleet_revisions AS r
        WHERE (r.site, r.bay, r.inspection, r.revision) = (c.site, c.bay, c.inspection, c.revision)
    ) AND NOT EXISTS (  -- as its own bay sent it, not as a copy that somebody else did
        SELECT FROM fleet_refused AS f WHERE f.sha256 = c.document_sha256
        AND f.topic = 'ringtrue/1/' || c.site || '/' || c.bay || '/inspection/' || c.inspection || '/result'
    );
-- How far each chain goes: by its newest checkpoint, and without a gap here.
CREATE VIEW fleet_chains AS
    SELECT site, bay, chain, coalesce(walked, 0) AS walked, coalesce(told, 0) AS told FROM (
        SELECT site, bay, chain, max(size) AS walked FROM fleet_walked GROUP BY site, bay, chain
    ) AS w FULL JOIN (
        SELECT site, bay, chain, max(size) AS told FROM fleet_checkpoints GROUP BY site, bay, chain
    ) AS t USING (site, bay, chain);
-- What is refused still.
CREATE VIEW fleet_refused_still AS
    SELECT f.* FROM fleet_refused AS f
    WHERE NOT EXISTS (
        SELECT FROM fleet_taken_up AS t WHERE (t.sha256, t.topic) = (f.sha256, f.topic)
    );
"""


def upgrade() -> None:
    """Make them."""
    connection = op.get_bind()
    # What runs with its owner's rights must not find tables of the caller's own making.
    schema = connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    for script in (_TABLES, _PARTITIONS, _WITHDRAW, _VIEWS):
        connection.exec_driver_sql(script.replace("SCHEMA", schema).replace("%", "%%"))
