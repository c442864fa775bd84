"""The store of result documents: each revision once, byte for byte as it was published."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import structlog
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from sqlalchemy import (
    Column,
    Connection,
    Integer,
    LargeBinary,
    MetaData,
    Select,
    String,
    Table,
    create_engine,
    event,
    func,
    insert,
    select,
)
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError

from records.errors import RecordRefusedError, RecordsUnavailableError
from records.migrations import HEAD, bring_up, found_version, is_stamped, refuse_unless_today

SCHEMA_PREFIX = "ringtrue/result/"

BUSY_TIMEOUT_S = 5.0
"""How long a writer waits for another one: a commit takes milliseconds, an export holds no lock."""

METADATA = MetaData()
"""Today's tables, as the scripts in `migrations` make them."""

_results = Table(
    "results",
    METADATA,
    Column("inspection", String, primary_key=True),
    Column("revision", Integer, primary_key=True),
    Column("state", String, nullable=False),
    Column("site", String, nullable=False),
    Column("bay", String, nullable=False),
    Column("engine", String, nullable=False, index=True),
    Column("damper", String, nullable=False, index=True),
    Column("verdict", String, nullable=False),
    Column("opened", String, nullable=False),
    Column("stored", String, nullable=False, index=True),
    Column("sha256", String, nullable=False),
    Column("document", LargeBinary, nullable=False),
)


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


class Store:
    """Results in a database that SQLAlchemy knows; its tables are made when they are missing, and brought
    up where they are of an earlier version.

    url: as SQLAlchemy has it, e.g. `sqlite:///var/records.db`. create: make what is missing; else a missing
    file, or an earlier version, is an error, and nothing is changed by reading. utc: the wall clock. Safe
    to use from several threads and processes at once. Every method raises RecordsUnavailableError while
    the database is away, or is none that this version can use.
    """

    def __init__(
        self, url: str, *, create: bool = True, utc: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        self._create = create
        self._utc = utc
        self._log = structlog.get_logger()
        try:
            self._url = make_url(url)
        except ArgumentError as error:
            raise RecordRefusedError(
                f"records: {url!r} is no database address; expected one like sqlite:///var/records.db"
            ) from error
        try:
            self._engine = create_engine(self._url, **self._options())
        except (NoSuchModuleError, ModuleNotFoundError) as error:
            raise RecordRefusedError(
                f"records: no driver for {self._url.drivername!r} is installed; use sqlite:///… or install it"
            ) from error
        if self._url.get_backend_name() == "sqlite":
            event.listen(self._engine, "connect", _make_durable)
        self._is_ready = False
        self._file: tuple[int, int] | None = None
        self._wal: tuple[int, int] | None = None
        self._is_new = False

    def is_new(self) -> bool:
        """Whether the database was made, or its file exchanged, since this was last asked; makes it where
        it is missing. What it held before may have to be stored again."""
        with self._connected():
            self._is_new, is_new = False, self._is_new
        return is_new

    def put(self, document: bytes) -> bool:
        """Store one result document; False where the very same one is there already.

        Raises RecordRefusedError where it is no result document, or where another one with the same
        inspection and revision is stored: the stored one stays.
        """
        key = _read_key(document)
        digest = hashlib.sha256(document).hexdigest()
        row = {
            "inspection": key.inspection,
            "revision": key.revision,
            "state": key.state,
            "site": key.site,
            "bay": key.bay,
            "engine": key.engine.serial,
            "damper": key.damper.serial,
            "verdict": key.verdict,
            "opened": key.opened,
            "stored": _rfc3339(self._utc()),
            "sha256": digest,
            "document": document,
        }
        try:
            with self._connected() as connection:
                connection.execute(insert(_results).values(row))
        except IntegrityError:
            stored = self.get(key.inspection, key.revision)
            if stored == document:
                return False
            self._log.error("record-contradicted", inspection=key.inspection, revision=key.revision)
            raise RecordRefusedError(
                f"records: {key.inspection} revision {key.revision} is stored already with other content "
                f"(now sha256 {digest[:12]}…); the stored one is kept: find out which bay wrote the second"
            ) from None
        self._log.info("record-stored", inspection=key.inspection, revision=key.revision, verdict=key.verdict)
        return True

    def get(self, inspection: str, revision: int | None = None) -> bytes | None:
        """One document, exactly as it came: that revision, or the highest; None where there is none."""
        query = select(_results.c.document).where(_results.c.inspection == inspection)
        if revision is None:
            query = query.order_by(_results.c.revision.desc()).limit(1)
        else:
            query = query.where(_results.c.revision == revision)
        with self._connected() as connection:
            document: bytes | None = connection.execute(query).scalar_one_or_none()
        return document

    def latest(self, since: datetime | None = None, damper: str | None = None) -> Iterator[bytes]:
        """The highest revision of each inspection, oldest record first.

        since: only what was stored from then on. damper: only of this one.
        """
        highest = (
            select(_results.c.inspection, func.max(_results.c.revision).label("revision"))
            .group_by(_results.c.inspection)
            .subquery()
        )
        query: Select[Any] = (
            select(_results.c.document)
            .join(
                highest,
                (_results.c.inspection == highest.c.inspection) & (_results.c.revision == highest.c.revision),
            )
            .order_by(_results.c.stored, _results.c.inspection)
        )
        if since is not None:
            query = query.where(_results.c.stored >= _rfc3339(since))
        if damper is not None:
            query = query.where(_results.c.damper == damper)
        with self._connected() as connection:
            yield from connection.execution_options(yield_per=100).execute(query).scalars()

    def close(self) -> None:
        """Let go of the database; the store may be used again afterwards."""
        self._engine.dispose()

    def _options(self) -> dict[str, Any]:
        if self._url.get_backend_name() == "sqlite":
            return {"connect_args": {"timeout": BUSY_TIMEOUT_S}}
        return {}

    @contextmanager
    def _connected(self) -> Iterator[Connection]:
        """A transaction; anything the database says against it, but a duplicate key, becomes ours."""
        try:
            if self._is_ready and self._file != self._identity():
                self._log.warning("records-file-gone", file=self._url.database)
                self._let_go()
            if not self._is_ready:
                self._prepare()
            with self._engine.begin() as connection:
                yield connection
            self._wal = self._identity("-wal")
        except IntegrityError:
            raise
        except (DBAPIError, OSError) as error:
            cause = getattr(error, "orig", None) or error
            raise RecordsUnavailableError(
                f"records: {self._url.render_as_string(hide_password=True)} cannot be used: {cause}; "
                "look at [records] url, the folder's rights and the free space"
            ) from error

    def _path(self) -> Path | None:
        """The database's file, where it has one here."""
        name = self._url.database
        is_file = self._url.get_backend_name() == "sqlite" and name and name != ":memory:"
        return Path(name) if is_file and name else None

    def _let_go(self) -> None:
        """The file that our connections hold is not the one that lies there: what SQLite kept beside the
        old one would be taken for the new one's."""
        self._engine.dispose()
        path, old = self._path(), self._identity("-wal")
        if path is not None and old is not None and old == self._wal:
            for ending in ("-wal", "-shm"):
                Path(f"{path}{ending}").unlink(missing_ok=True)
        self._is_ready = False

    def _identity(self, ending: str = "") -> tuple[int, int] | None:
        """Which file lies there now; None where there is none. ending: of one that SQLite keeps beside."""
        path = self._path()
        try:
            found = Path(f"{path}{ending}").stat() if path is not None else None
        except FileNotFoundError:
            return None
        return (found.st_dev, found.st_ino) if found is not None else None

    def _prepare(self) -> None:
        path = self._path()
        had, was = self._file, self._identity()
        if path is not None:
            if not self._create and was is None:
                raise FileNotFoundError("there is no such file")
            path.parent.mkdir(parents=True, exist_ok=True)
        if self._create:
            self._bring_up()
        else:
            with self._engine.begin() as connection:
                refuse_unless_today(connection)
        self._file = self._identity()
        self._is_new |= path is not None and (was is None or had not in (None, self._file))
        self._is_ready = True

    def _bring_up(self) -> None:
        with self._engine.connect() as connection:
            is_today = found_version(connection) == HEAD and is_stamped(connection)
            if self._path() is not None:  # WAL lets an export read while the bay writes
                connection.exec_driver_sql("PRAGMA journal_mode=WAL")
        if not is_today:
            bring_up(self._engine)


def _make_durable(connection: Any, _record: Any) -> None:
    """FULL survives the plug being pulled."""
    connection.execute("PRAGMA synchronous=FULL")


def _rfc3339(moment: datetime) -> str:
    """Whole milliseconds and `Z`, so that text sorts as time does."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _read_key(document: bytes) -> _Key:
    try:
        return _Key.model_validate_json(document)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "document"
        raise RecordRefusedError(
            f"records: not a result document: {place}: {first['msg']}; expected a {SCHEMA_PREFIX}… object"
        ) from None
