"""Which version a fleet's database is of, and how an earlier one becomes today's: forward only.

A tree of its own beside that of a bay's records: both may lie in one database.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from records.errors import RecordsVersionError
from records.migrations import place_of, scripts_config

HEAD = "0005"
"""The newest version here; its script is in `versions`."""
SCRIPTS = Path(__file__).parent
VERSION_TABLE = "ringtrue_fleet_version"
ONE_AT_A_TIME = 0x52_54_46_4C
"""PostgreSQL's number for the lock that whoever migrates holds ("RTFL")."""


def found_version(connection: Connection) -> str | None:
    """The version that a database says; None where it holds no fleet's records."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    # The name is ours.
    version: str | None = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()  # noqa: S608
    return version


def bring_up(engine: Engine) -> tuple[str | None, str]:
    """Make the tables, or today's of earlier ones, in one transaction; safe where several start at once. The
    versions before and after. Raises RecordsVersionError where it is newer; it is then as it was."""
    from alembic import command

    config = scripts_config(SCRIPTS, [SCRIPTS / "versions"])
    with engine.begin() as connection:
        connection.execute(text(f"SELECT pg_advisory_xact_lock({ONE_AT_A_TIME})"))
        found = found_version(connection)
        if found is not None and found > HEAD:
            raise _newer(connection, found)
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
    return found, HEAD


def refuse_unless_today(connection: Connection) -> None:
    """Raises RecordsVersionError where it is not of today's version."""
    found = found_version(connection)
    if found is not None and found > HEAD:
        raise _newer(connection, found)
    if found != HEAD:
        what = f"a fleet's records of version {found}, older than this writer's" if found else "no tables yet"
        told = f"{what}: whoever owns them runs `ringtrue writer --prepare`"
        raise RecordsVersionError(f"records: {place_of(connection)} holds {told}")


def _newer(connection: Connection, found: str) -> RecordsVersionError:
    return RecordsVersionError(
        f"records: {place_of(connection)} is of version {found}, and this writer knows them up to {HEAD}; "
        "nothing in it was changed: start a newer writer"
    )
