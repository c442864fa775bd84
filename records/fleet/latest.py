"""The latest revision of each inspection of every bay that the bay's chain vouches for, as its document.

Whoever can write below a bay's root and lacks its key can have a result kept, unproven, and with as high a
revision as they like: it overrules none that the bay signed, and is not counted.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Column, ColumnElement, Subquery, exists, func, select, text
from sqlalchemy.dialects.postgresql import distinct_on

from records.fleet.database import Fleet
from records.fleet.tables import CHAIN, RESULTS

AT_ONCE = 200
"""Documents that are fetched in one go: some 20 kB each."""


def latest_documents(fleet: Fleet) -> Iterator[bytes]:
    """Byte for byte, by site, bay and inspection. Raises RecordsUnavailableError.

    What was stored is what the chain names: another is withdrawn as its record comes. A `keep` is left out
    where the chain names a later result that is not here: nobody here knows what that came to.
    """
    latest = _latest(RESULTS.c.document)
    query = select(latest.c.document).where(~_superseded(latest)).order_by(*(latest.c[name] for name in _OF))
    with fleet.transaction() as connection:
        for packed in connection.execution_options(yield_per=AT_ONCE).execute(query).scalars():
            yield zlib.decompress(packed)


def unproven(fleet: Fleet) -> int:
    """How many revisions are left out, as no record of them has come. Raises RecordsUnavailableError."""
    with fleet.transaction() as connection:
        return int(connection.execute(text("SELECT count(*) FROM fleet_unproven")).scalar_one())


def superseded(fleet: Fleet) -> int:
    """How many inspections are left out, as a later result than their `keep` is missing. Raises
    RecordsUnavailableError."""
    latest = _latest()
    query = select(func.count()).select_from(latest).where(_superseded(latest))
    with fleet.transaction() as connection:
        return int(connection.execute(query).scalar_one())


_OF = "site", "bay", "inspection"
_REVISION = *_OF, "revision"


def _latest(*more: Column[Any]) -> Subquery:
    """Of each inspection, its latest revision that the chain vouches for."""
    of = [RESULTS.c[name] for name in _OF]
    named = exists().where(*(CHAIN.c[name] == RESULTS.c[name] for name in _REVISION))
    ended = func.coalesce(RESULTS.c.decision, RESULTS.c.verdict).label("ended")
    query = select(*of, RESULTS.c.revision, RESULTS.c.state, ended, *more).where(named).ext(distinct_on(*of))
    return query.order_by(*of, RESULTS.c.revision.desc()).subquery()


def _superseded(latest: Subquery) -> ColumnElement[bool]:
    of = (CHAIN.c[name] == latest.c[name] for name in _OF)
    later = exists().where(*of, CHAIN.c.revision > latest.c.revision)
    return (latest.c.ended == "keep") & (latest.c.state.in_(("closed", "signed"))) & later
