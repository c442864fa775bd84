"""The latest revision of each inspection of every bay that the bay's chain vouches for, as its document.

Whoever can write below a bay's root and lacks its key can have a result kept, unproven, and with as high a
revision as they like: it overrules none that the bay signed, and is not counted.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from sqlalchemy import exists, select, text
from sqlalchemy.dialects.postgresql import distinct_on

from records.fleet.database import Fleet
from records.fleet.tables import CHAIN, RESULTS

AT_ONCE = 200
"""Documents that are fetched in one go: some 20 kB each."""


def latest_documents(fleet: Fleet) -> Iterator[bytes]:
    """Byte for byte, by site, bay and inspection. Raises RecordsUnavailableError.

    What was stored is what the chain names: another is withdrawn as its record comes.
    """
    of = RESULTS.c.site, RESULTS.c.bay, RESULTS.c.inspection
    named = exists().where(*(CHAIN.c[name] == RESULTS.c[name] for name in _REVISION))
    latest = select(RESULTS.c.document).where(named).ext(distinct_on(*of))
    query = latest.order_by(*of, RESULTS.c.revision.desc())
    with fleet.transaction() as connection:
        for packed in connection.execution_options(yield_per=AT_ONCE).execute(query).scalars():
            yield zlib.decompress(packed)


def unproven(fleet: Fleet) -> int:
    """How many revisions are left out, as no record of them has come. Raises RecordsUnavailableError."""
    with fleet.transaction() as connection:
        return int(connection.execute(text("SELECT count(*) FROM fleet_unproven")).scalar_one())


_REVISION = "site", "bay", "inspection", "revision"
