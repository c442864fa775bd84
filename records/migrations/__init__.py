"""Which version a database of records is of, and how an earlier one becomes today's: forward only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import structlog
from sqlalchemy import Connection, Engine, inspect, text

from records.errors import RecordsVersionError

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0004"
"""The newest version here; its script is in `versions`."""

SCRIPTS = Path(__file__).parent
VERSIONS = SCRIPTS / "versions"

VERSION_TABLE = "ringtrue_version"
"""A name of our own: a fleet's database may hold other programs' tables, and their versions."""

FIRST = "0001"
FIRST_COLUMNS = frozenset(
    (
        "inspection", "revision", "state", "site", "bay", "engine", "damper", "verdict", "opened", "stored",
        "sha256", "document",
    )
)  # fmt: skip
"""What the table `results` held before databases said their version."""

ONE_AT_A_TIME = 0x52_54_52_43
"""PostgreSQL's number for the lock that whoever migrates holds ("RTRC")."""


def found_version(connection: Connection) -> str | None:
    """The version that a database says or, by its tables, must be of; None where it holds no records.

    Raises RecordsVersionError where the tables are another program's.
    """
    tables = set(inspect(connection).get_table_names())
    if VERSION_TABLE in tables:
        # The name is ours.
        version: str | None = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()  # noqa: S608
        return version
    if "results" in tables:
        columns = {str(column["name"]) for column in inspect(connection).get_columns("results")}
        if columns == FIRST_COLUMNS:
            return FIRST
        raise _anothers(connection, f"its table results holds {', '.join(sorted(columns))}")
    if tables and connection.dialect.name == "sqlite":
        raise _anothers(connection, f"it holds {', '.join(sorted(tables))}")
    return None


def is_stamped(connection: Connection) -> bool:
    """Whether it says its version itself."""
    return inspect(connection).has_table(VERSION_TABLE)


def bring_up(engine: Engine, versions: Sequence[Path] = (VERSIONS,)) -> None:
    """Make what is missing, and today's version of an earlier one, in one transaction; safe where several
    start at once.

    Raises RecordsVersionError where it is newer or another program's; it is then as it was.
    """
    from alembic import command
    from alembic.script import ScriptDirectory
    from alembic.util import CommandError

    config = scripts_config(SCRIPTS, versions)
    with _alone(engine) as connection:
        found = found_version(connection)
        config.attributes["connection"] = connection
        if found is not None:
            try:
                ScriptDirectory.from_config(config).get_revision(found)
            except CommandError:
                raise _newer(connection, found) from None
            if not is_stamped(connection):
                command.stamp(config, found)
        command.upgrade(config, "head")
        now = found_version(connection)
    if found not in (None, now):
        structlog.get_logger().info("records brought up", found=found, now=now)


def refuse_unless_today(connection: Connection) -> None:
    """For who only reads. Raises RecordsVersionError where it is not of today's version; changes nothing."""
    found = found_version(connection)
    if found is not None and found > HEAD:
        raise _newer(connection, found)
    if found != HEAD:
        what = f"records of version {found}, older than this ringtrue's" if found else "no records yet"
        raise RecordsVersionError(
            f"records: {place_of(connection)} holds {what}: the daemon brings it up when it starts"
        )


def scripts_config(scripts: Path, versions: Sequence[Path]) -> Config:
    """What runs the migrations of a folder: its environment, and the folders of its scripts."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", _escaped(scripts))
    config.set_main_option("path_separator", "newline")
    config.set_main_option("version_locations", "\n".join(_escaped(path) for path in versions))
    return config


@contextmanager
def _alone(engine: Engine) -> Iterator[Connection]:
    """One transaction that nobody else's crosses; whoever comes meanwhile waits."""
    if engine.dialect.name != "sqlite":
        with engine.begin() as connection:
            if engine.dialect.name == "postgresql":
                connection.execute(text(f"SELECT pg_advisory_xact_lock({ONE_AT_A_TIME})"))
            yield connection
        return
    # Python's sqlite3 begins no transaction of its own before a CREATE or ALTER: so it is begun by hand.
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        try:
            yield connection
        except BaseException:
            connection.exec_driver_sql("ROLLBACK")
            raise
        connection.exec_driver_sql("COMMIT")


def _anothers(connection: Connection, what: str) -> RecordsVersionError:
    return RecordsVersionError(
        f"records: {place_of(connection)} is another program's database ({what}); nothing in it was changed: "
        "name another one under [records] url"
    )


def _newer(connection: Connection, found: str) -> RecordsVersionError:
    return RecordsVersionError(
        f"records: {place_of(connection)} is of version {found}, and this ringtrue knows them up to {HEAD}; "
        "nothing in it was changed: start the newer ringtrue that wrote it"
    )


def place_of(connection: Connection) -> str:
    """Where a database is, without its password."""
    return connection.engine.url.render_as_string(hide_password=True)


def _escaped(path: Path) -> str:
    """As the options of a configuration are written."""
    return str(path).replace("%", "%%")
