"""Results into the tables that hold them, in one statement for all of a batch.

What a check has of its result goes once for the result, however many checks it has.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Column

from records.fleet.held import Statement, packed_columns, unnested
from records.fleet.packing import packed
from records.fleet.reading import Document
from records.fleet.rows import check_rows, result_row
from records.fleet.tables import CHECKS, RESULTS, REVISIONS


def storing(documents: Sequence[tuple[Document, date]]) -> Statement:
    """The statement that puts these in that are not there, each with its month; it says how many."""
    if not documents:
        return "SELECT 0", {}
    results = [result_row(*one) for one in documents]
    checks = [{"n": n} | row for n, (one, _) in enumerate(documents, 1) for row in check_rows(one)]
    numbers = {"c_n": packed("bigint", [row["n"] for row in checks])}
    return _STORE, packed_columns(_RESULT, results, "r_") | packed_columns(_CHECK, checks, "c_") | numbers


_OF_RESULT = {one.name: one for table in (REVISIONS, RESULTS) for one in table.c if one.name != "stored"}
_RESULT = list(_OF_RESULT.values())
_CHECK = [one for one in CHECKS.c if one.name not in _OF_RESULT]


def _names(columns: Iterable[Column[Any]]) -> str:
    return ", ".join(one.name for one in columns)


_REVISION_NAMES = _names(one for one in REVISIONS.c if one.name != "stored")
_RESULT_NAMES, _CHECK_NAMES = _names(RESULTS.c), _names(CHECKS.c)
# The names are ours (S608); what comes from outside goes as a parameter.
_STORE = f"""
    WITH r AS MATERIALIZED (
        SELECT * FROM unnest({unnested(_RESULT, "r_")}) WITH ORDINALITY AS r({_names(_RESULT)}, n)
    ), revisions AS (
        INSERT INTO fleet_revisions ({_REVISION_NAMES}) SELECT {_REVISION_NAMES} FROM r
        ON CONFLICT DO NOTHING RETURNING 1
    ), results AS (
        INSERT INTO fleet_results ({_RESULT_NAMES}) SELECT {_RESULT_NAMES} FROM r ON CONFLICT DO NOTHING
    ), checks AS (
        INSERT INTO fleet_checks ({_CHECK_NAMES}) SELECT {_CHECK_NAMES} FROM r
        JOIN unnest(%(c_n)s::bigint[], {unnested(_CHECK, "c_")}) AS c(n, {_names(_CHECK)}) USING (n)
        ON CONFLICT DO NOTHING
    )
    SELECT count(*) FROM revisions
"""  # noqa: S608
