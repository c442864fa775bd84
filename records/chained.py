"""The records of bays' chains beside the results: each once, byte for byte as it was published."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError

from chain.errors import AlteredError
from chain.signing import digest, read_record
from contract.wire import rfc3339
from records.database import Database
from records.errors import RecordRefusedError
from records.store import columns_of
from records.tables import CHAIN, RESULTS


def put_record(database: Database, record: bytes, now: datetime) -> bool:
    """Store one record of a chain; False where it is there already. Raises RecordRefusedError where it is
    none; one that another contradicts is kept beside it, for `verify` to tell."""
    try:
        read_record(record)
    except AlteredError as error:
        raise RecordRefusedError(f"records: not a record of a chain: {error}") from None
    row = chain_columns(record) | {"stored": rfc3339(now), "record": record}
    try:
        with database.connected() as connection:
            connection.execute(insert(CHAIN).values(row))
    except IntegrityError:
        return False
    return True


def chain_columns(record: bytes) -> dict[str, Any]:
    """What stands beside a record in its row, and follows from it."""
    said = json.loads(record)
    return {
        "sha256": digest(record),
        "site": said["site"],
        "bay": said["bay"],
        "chain": said["chain"],
        "place": said["index"],
        "inspection": said.get("inspection"),
        "revision": said.get("revision"),
    }


@dataclass(frozen=True, slots=True)
class Row:
    """One row of results or chain. columns: what stands beside `content`; follows: what should."""

    columns: dict[str, Any]
    content: bytes
    follows: dict[str, Any] | None

    @property
    def is_as_stored(self) -> bool:
        return self.columns == self.follows


def result_rows(database: Database) -> Iterator[Row]:
    """All results, in no order that means anything; of those that are none, nothing follows."""
    with database.connected() as connection:
        for found in connection.execute(select(RESULTS)).mappings():
            columns = {name: value for name, value in found.items() if name not in ("stored", "document")}
            try:
                follows = columns_of(found["document"])
            except RecordRefusedError:
                follows = None
            yield Row(columns, bytes(found["document"]), follows)


def chain_rows(database: Database) -> Iterator[Row]:
    """All records of chains, each chain's in order, as far as the columns beside them say it."""
    order = (CHAIN.c.site, CHAIN.c.bay, CHAIN.c.chain, CHAIN.c.place, CHAIN.c.sha256)
    with database.connected() as connection:
        for found in connection.execute(select(CHAIN).order_by(*order)).mappings():
            columns = {name: value for name, value in found.items() if name not in ("stored", "record")}
            record = bytes(found["record"])
            try:
                follows = chain_columns(record)
            except (ValueError, KeyError, TypeError, AttributeError):
                follows = None
            yield Row(columns, record, follows)
