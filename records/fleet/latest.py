"""The latest revision of each inspection of every bay, as its document."""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.dialects.postgresql import distinct_on

from records.fleet.database import Fleet
from records.fleet.tables import RESULTS

AT_ONCE = 200
"""Documents that are fetched in one go: some 20 kB each."""


def latest_documents(fleet: Fleet) -> Iterator[bytes]:
    """Byte for byte, by site, bay and inspection. Raises RecordsUnavailableError."""
    of = RESULTS.c.site, RESULTS.c.bay, RESULTS.c.inspection
    query = select(RESULTS.c.document).ext(distinct_on(*of)).order_by(*of, RESULTS.c.revision.desc())
    with fleet.transaction() as connection:
        for packed in connection.execution_options(yield_per=AT_ONCE).execute(query).scalars():
            yield zlib.decompress(packed)
