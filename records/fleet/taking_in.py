"""Records of a bay, or of a shop, into a fleet's database: its results and its chain.

They are filed as if its bays had published them: what is there is left as it is, what its chain contradicts
is refused. Interrupted, and run again, it goes on.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, islice

from contract.topics import Topics
from records.chained import chain_rows, result_rows
from records.database import Database
from records.fleet.filing import Filed, Filing

AT_ONCE = 200
"""Rows filed in one transaction."""


def take_in(records: Database, filing: Filing) -> Filed:
    """All of it; what of it was not there. Raises RecordsUnavailableError, of either database."""
    filed, left = Filed(), chain(_chain(records), _results(records))
    while messages := list(islice(left, AT_ONCE)):
        filed.add(filing.file(messages))
    return filed


def _chain(records: Database) -> Iterator[tuple[str, bytes]]:
    for row in chain_rows(records):
        yield Topics(row.columns["site"], row.columns["bay"]).chain, row.content


def _results(records: Database) -> Iterator[tuple[str, bytes]]:
    for row in result_rows(records):
        columns = row.columns
        yield Topics(columns["site"], columns["bay"]).inspection_result(columns["inspection"]), row.content
