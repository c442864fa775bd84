"""The connection to a database of records: made, brought up, noticed when it goes, and its errors ours."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import structlog
from sqlalchemy import Connection, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError

from records.errors import RecordRefusedError, RecordsUnavailableError
from records.migrations import HEAD, bring_up, found_version, is_stamped, refuse_unless_today

BUSY_TIMEOUT_S = 5.0
"""How long a writer waits for another one: a commit takes milliseconds, an export holds no lock."""


class Database:
    """A database that SQLAlchemy knows; its tables are made when they are missing, and brought up where
    they are of an earlier version.

    url: as SQLAlchemy has it, e.g. `sqlite:///var/records.db`. create: make what is missing; else a missing
    file, or an earlier version, is an error, and nothing is changed by reading. Safe to use from several
    threads and processes at once. Every method raises RecordsUnavailableError while the database is away,
    or is none that this version can use.
    """

    def __init__(self, url: str, *, create: bool = True) -> None:
        self._create = create
        self._log = structlog.get_logger()
        try:
            self._url = make_url(url)
        except (ArgumentError, ValueError) as error:  # ValueError: a port that is no number
            bare = re.sub(r"//[^/]*@", "//…@", url)
            raise RecordRefusedError(
                f"records: {bare!r} is no database address; expected one like sqlite:///var/records.db"
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
        with self.connected():
            self._is_new, is_new = False, self._is_new
        return is_new

    def close(self) -> None:
        """Let go of the database; it may be used again afterwards."""
        self._engine.dispose()

    @property
    def place(self) -> str:
        """Its address, without a password, for a message."""
        return self._url.render_as_string(hide_password=True)

    def _options(self) -> dict[str, Any]:
        if self._url.get_backend_name() == "sqlite":
            return {"connect_args": {"timeout": BUSY_TIMEOUT_S}}
        return {}

    @contextmanager
    def connected(self) -> Iterator[Connection]:
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
                f"records: {self.place} cannot be used: {cause}; "
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
