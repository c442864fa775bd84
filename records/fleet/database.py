"""The fleet's database: one transaction at a time, and its errors ours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, create_engine
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from records.errors import NotInstalledError, RecordRefusedError, RecordsUnavailableError
from records.fleet.migrations import bring_up, refuse_unless_today

CONNECT_S = 10
"""Seconds that a server may take to let one in."""
DEAD_S = {"keepalives_idle": 10, "keepalives_interval": 5, "keepalives_count": 3, "tcp_user_timeout": 20_000}
"""So that a server whose machine is gone is noticed within half a minute (the last in ms)."""
_SESSION = {
    "lock_timeout": "30s",
    "idle_in_transaction_session_timeout": "60s",
    "tcp_keepalives_idle": "10",
    "tcp_keepalives_interval": "5",
    "tcp_keepalives_count": "3",
}
"""What the server is told of each session: of a writer whose machine is gone it must notice soon, as that
holds up all others that have something of the same bays."""
_UNFIT = ("22", "23", "54")
"""Classes of SQLSTATE that are of the rows (PostgreSQL, appendix A): data, integrity, a limit of the program,
as where a serial is longer than an index holds. All others may be mended without us."""


class UnfitError(RecordRefusedError):
    """The database is well and does not take these very rows: trying again is no use."""


class Fleet:
    """url: SQLAlchemy's, of PostgreSQL; password: where it holds none. Safe from several threads.

    Every method raises RecordsUnavailableError while the database is away, full, read-only, or none of a
    fleet's: whatever may be mended without us.
    """

    def __init__(self, url: str, password: str | None = None) -> None:
        try:
            address = make_url(url)
        except ArgumentError:
            raise RecordRefusedError("records: no database address in [records] url") from None
        if password is not None:
            address = address.set(password=password)
        try:
            from records.fleet.packing import register  # needs the driver

            register()  # before there is an engine, which looks once what there is
            self._engine = create_engine(
                address,
                pool_size=2,
                connect_args={
                    "connect_timeout": CONNECT_S,
                    "application_name": "ringtrue writer",
                    "client_encoding": "utf-8",  # as arrays are packed
                    "options": " ".join(f"-c {name}={value}" for name, value in _SESSION.items()),
                    **DEAD_S,
                },
            )
        except ModuleNotFoundError as error:
            raise NotInstalledError("psycopg", "a record writer", "nothing") from error
        self._driver = self._engine.dialect.loaded_dbapi
        self._is_ready = False

    @property
    def place(self) -> str:
        """Its address, without a password."""
        return self._engine.url.render_as_string(hide_password=True)

    def prepare(self) -> tuple[str | None, str]:
        """Make the tables, or today's of earlier ones; the versions before and after. For their owner."""
        with self._ours():
            return bring_up(self._engine)

    @contextmanager
    def transaction(self) -> Iterator[Connection]:
        """One. Raises UnfitError too, for rows that no try would bring in."""
        with self._ours(), self._engine.begin() as connection:
            if not self._is_ready:
                refuse_unless_today(connection)
                self._is_ready = True
            yield connection

    def close(self) -> None:
        """Let go of it; it may be used again."""
        self._engine.dispose()

    @contextmanager
    def _ours(self) -> Iterator[None]:
        try:
            yield
        except (DBAPIError, self._driver.Error) as error:
            # The driver refuses some text before the server sees it (U+0000).
            is_of_rows = isinstance(getattr(error, "orig", None) or error, self._driver.DataError)
            if is_of_rows or _sqlstate(error)[:2] in _UNFIT:
                raise UnfitError(f"records: {self.place} does not take it: {_said(error)}") from error
            self._is_ready = False
            self._engine.dispose()  # a session keeps what it began with: read-only, another role's rights
            raise RecordsUnavailableError(
                f"records: {self.place} cannot be used: {_said(error)}; look at [records] url, the rights of "
                "its user, and the server's free space"
            ) from error


def _said(error: Exception) -> str:
    """In one line, without the statement and its rows."""
    return " ".join(str(getattr(error, "orig", None) or error).split())


def _sqlstate(error: Exception) -> str:
    """The server's own code of what went wrong; empty where it is not the server that says so."""
    return getattr(getattr(error, "orig", None) or error, "sqlstate", None) or ""
