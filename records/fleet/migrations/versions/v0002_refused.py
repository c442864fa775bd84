"""What is refused is kept to a bound; what was let go beyond it is counted."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"

_GONE = """
CREATE TABLE fleet_refused_gone (
    reason text PRIMARY KEY, number bigint NOT NULL, bytes bigint NOT NULL, latest timestamptz NOT NULL
);
"""
_LET_GO = """
-- Of what is refused the oldest beyond so many messages, or bytes as they are stored: first those that were
-- taken up since, then those that can never be, last those that may. What no result has come of is counted by
-- its reason; what of each was let go now. One caller at a time; who comes meanwhile has nothing to do. With
-- its owner's rights, and for this alone: a writer has none to delete.
CREATE FUNCTION fleet_let_go(most bigint, most_bytes bigint)
RETURNS TABLE (reason text, number bigint, bytes bigint) LANGUAGE plpgsql SECURITY DEFINER
SET search_path = SCHEMA, pg_temp AS $$
#variable_conflict use_column
BEGIN
    IF NOT pg_try_advisory_xact_lock(1381254222) THEN
        RETURN;
    END IF;
    RETURN QUERY WITH placed AS (
        SELECT f.sha256, f.topic, f.reason, t.sha256 IS NOT NULL AS is_taken,
            row_number() OVER kept_first AS place, sum(octet_length(f.payload)) OVER kept_first AS so_far
        FROM fleet_refused AS f LEFT JOIN fleet_taken_up AS t ON (t.sha256, t.topic) = (f.sha256, f.topic)
        WINDOW kept_first AS (
            ORDER BY t.sha256 IS NOT NULL,
                f.reason NOT IN ('newer', 'other-key', 'unknown-bay', 'contradicted', 'unfit'),
                f.stored DESC, f.sha256, f.topic, f.reason
            ROWS UNBOUNDED PRECEDING
        )
    ), gone AS (
        DELETE FROM fleet_refused AS f USING placed AS p
        WHERE (f.sha256, f.topic, f.reason) = (p.sha256, p.topic, p.reason)
        AND (p.place > most OR p.so_far > most_bytes)
        RETURNING f.reason, octet_length(f.payload) AS bytes, p.is_taken
    ), counted AS (
        SELECT g.reason, count(*) AS number, sum(g.bytes)::bigint AS bytes FROM gone AS g
        WHERE NOT g.is_taken GROUP BY g.reason
    ), told AS (
        INSERT INTO fleet_refused_gone AS k (reason, number, bytes, latest)
        SELECT c.reason, c.number, c.bytes, now() FROM counted AS c
        ON CONFLICT (reason) DO UPDATE
        SET number = k.number + excluded.number, bytes = k.bytes + excluded.bytes, latest = excluded.latest
    )
    SELECT c.reason, c.number, c.bytes FROM counted AS c ORDER BY c.reason;
END $$;
REVOKE EXECUTE ON FUNCTION fleet_let_go(bigint, bigint) FROM PUBLIC;
"""
_RIGHTS = """
-- Whoever was a writer, or a reader, still is.
DO $$
DECLARE
    one record;
BEGIN
    FOR one IN SELECT a.grantee::regrole AS who FROM pg_proc AS p, aclexplode(p.proacl) AS a
        WHERE p.oid = 'fleet_withdraw(text, text, text, integer)'::regprocedure
        AND a.grantee NOT IN (0, p.proowner)
    LOOP
        EXECUTE format('GRANT EXECUTE ON FUNCTION fleet_let_go(bigint, bigint) TO %s', one.who);
    END LOOP;
    FOR one IN SELECT a.grantee::regrole AS who FROM pg_class AS c, aclexplode(c.relacl) AS a
        WHERE c.oid = 'fleet_refused_still'::regclass AND a.privilege_type = 'SELECT'
        AND a.grantee NOT IN (0, c.relowner)
    LOOP
        EXECUTE format('GRANT SELECT ON fleet_refused_gone TO %s', one.who);
    END LOOP;
END $$;
"""


def upgrade() -> None:
    """Make them."""
    connection = op.get_bind()
    # What runs with its owner's rights must not find tables of the caller's own making.
    schema = connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
    for script in (_GONE, _LET_GO, _RIGHTS):
        connection.exec_driver_sql(script.replace("SCHEMA", schema).replace("%", "%%"))
