"""The store of result documents: each revision once, byte for byte as it was published."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from sqlalchemy import Column, Connection, Select, func, insert, select, tuple_
from sqlalchemy.exc import IntegrityError

from contract.serials import bare
from contract.wire import rfc3339
from records.database import Database
from records.errors import RecordRefusedError
from records.tables import RESULTS

SCHEMA_PREFIX = "ringtrue/result/"


class _Serial(BaseModel):
    model_config = ConfigDict(extra="ignore")
    serial: str = ""


class _Key(BaseModel):
    """What the store must find in a document; anything else in it may change from version to version."""

    model_config = ConfigDict(extra="ignore")
    # An alias, because a pydantic model has a method `schema` of its own.
    document_schema: str = Field(alias="schema", pattern=f"^{re.escape(SCHEMA_PREFIX)}")
    inspection: str = Field(min_length=1)
    revision: int = Field(ge=0)
    state: str
    site: str
    bay: str
    engine: _Serial
    damper: _Serial
    verdict: str
    opened: str


class Store(Database):
    """Results in a database of records. utc: the wall clock."""

    def __init__(
        self, url: str, *, create: bool = True, utc: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        super().__init__(url, create=create)
        self._utc = utc

    def put(self, document: bytes) -> bool:
        """Store one result document; False where the very same one is there already.

        Raises RecordRefusedError where it is no result document, or where another one with the same
        inspection and revision is stored: the stored one stays.
        """
        row = columns_of(document)
        inspection, revision = row["inspection"], row["revision"]
        try:
            with self.connected() as connection:
                stored = {"stored": self._next_moment(connection), "document": document}
                connection.execute(insert(RESULTS).values(row | stored))
        except IntegrityError:
            if self.get(inspection, revision) == document:
                return False
            self._log.error("record-contradicted", inspection=inspection, revision=revision)
            raise RecordRefusedError(
                f"records: {inspection} revision {revision} is stored already with other content (now sha256 "
                f"{row['sha256'][:12]}…); the stored one is kept: find out which bay wrote the second"
            ) from None
        self._log.info("record-stored", inspection=inspection, revision=revision, verdict=row["verdict"])
        return True

    def _next_moment(self, connection: Connection) -> str:
        """Now, and after all that is stored, whatever the clock says: who asks for what came since it asked
        last would never be told of what a clock that was set back puts before that."""
        now = self._utc()
        last = connection.execute(select(func.max(RESULTS.c.stored))).scalar_one_or_none()
        with suppress(TypeError, ValueError, OverflowError):  # somebody's own
            now = now if last is None else max(now, datetime.fromisoformat(last) + timedelta(milliseconds=1))
        return rfc3339(now)

    def get(self, inspection: str, revision: int | None = None) -> bytes | None:
        """One document, exactly as it came: that revision, or the highest; None where there is none."""
        query = select(RESULTS.c.document).where(RESULTS.c.inspection == inspection)
        if revision is None:
            query = query.order_by(RESULTS.c.revision.desc()).limit(1)
        else:
            query = query.where(RESULTS.c.revision == revision)
        with self.connected() as connection:
            document: bytes | None = connection.execute(query).scalar_one_or_none()
        return document

    def held(self, site: str, bay: str) -> int:
        """How many results of a bay there are, all revisions."""
        query = select(func.count()).where(RESULTS.c.site == site, RESULTS.c.bay == bay)
        with self.connected() as connection:
            return int(connection.execute(query).scalar_one())

    def latest(
        self,
        since: datetime | None = None,
        *,
        damper: str | None = None,
        engine: str | None = None,
        inspection: str | None = None,
    ) -> Iterator[bytes]:
        """The highest revision of each inspection, oldest record first.

        since: only what was stored from then on, and after what was. damper, engine: only what that revision
        says of these; of a damper in whatever capitals and spaces. inspection: only that one.
        """
        dampers = self._spelt(damper)
        query = _latest(
            RESULTS.c.document, since=since, dampers=dampers, engine=engine, inspection=inspection
        )
        with self.connected() as connection:
            yield from connection.execution_options(yield_per=100).execute(query).scalars()

    def leaf(
        self,
        limit: int,
        after: tuple[str, str] = ("", ""),
        since: datetime | None = None,
        *,
        damper: str | None = None,
        engine: str | None = None,
    ) -> list[tuple[bytes, tuple[str, str]]]:
        """So many of `latest`, from behind a place on, each with its own place."""
        columns = (RESULTS.c.document, RESULTS.c.stored, RESULTS.c.inspection)
        query = _latest(*columns, since=since, dampers=self._spelt(damper), engine=engine)
        query = query.where(tuple_(RESULTS.c.stored, RESULTS.c.inspection) > tuple_(*after)).limit(limit)
        with self.connected() as connection:
            rows = connection.execute(query).all()
        return [(document, (stored, inspection)) for document, stored, inspection in rows]

    def _spelt(self, damper: str | None) -> list[str] | None:
        """As which serials one is on record: who condemned it may have typed it otherwise."""
        if damper is None:
            return None
        with self.connected() as connection:
            serials = connection.execute(select(RESULTS.c.damper).distinct()).scalars().all()
        return [serial for serial in serials if bare(serial) == bare(damper)]


def _latest(
    *columns: Column[Any],
    since: datetime | None,
    dampers: Sequence[str] | None = None,
    engine: str | None = None,
    inspection: str | None = None,
) -> Select[Any]:
    highest = (
        select(RESULTS.c.inspection, func.max(RESULTS.c.revision).label("revision"))
        .group_by(RESULTS.c.inspection)
        .subquery()
    )
    is_highest = (RESULTS.c.inspection == highest.c.inspection) & (RESULTS.c.revision == highest.c.revision)
    query: Select[Any] = (
        select(*columns).join(highest, is_highest).order_by(RESULTS.c.stored, RESULTS.c.inspection)
    )
    if since is not None:
        query = query.where(RESULTS.c.stored >= rfc3339(since))
    if dampers is not None:
        query = query.where(RESULTS.c.damper.in_(dampers))
    wanted = {RESULTS.c.engine: engine, RESULTS.c.inspection: inspection}
    for column, value in wanted.items():
        if value is not None:
            query = query.where(column == value)
    return query


def columns_of(document: bytes) -> dict[str, Any]:
    """What stands beside a document in its row, and follows from it. Raises RecordRefusedError where it is
    no result document."""
    key = _read_key(document)
    return {
        "inspection": key.inspection,
        "revision": key.revision,
        "state": key.state,
        "site": key.site,
        "bay": key.bay,
        "engine": key.engine.serial,
        "damper": key.damper.serial,
        "verdict": key.verdict,
        "opened": key.opened,
        "sha256": hashlib.sha256(document).hexdigest(),
    }


def _read_key(document: bytes) -> _Key:
    try:
        return _Key.model_validate_json(document)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "document"
        raise RecordRefusedError(
            f"records: not a result document: {place}: {first['msg']}; expected a {SCHEMA_PREFIX}… object"
        ) from None
