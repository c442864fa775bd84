"""SQLite databases as they are copied and looked at: whole, and consistent in themselves."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from acquire.journal.file import Batch, open_writer, refuse_others, write_batch
from acquire.journal.outgoing import Resend
from records.errors import RecordsVersionError


def copy_database(source: Path, to: Path) -> None:
    """One moment of a database that others may be writing to, as one file. Raises sqlite3.Error.

    SQLite's own online backup, in a single step: it reads within one transaction, which in WAL mode holds
    up no writer and sees nothing of what is written meanwhile.
    """
    with closing(sqlite3.connect(source, isolation_level=None)) as db, closing(sqlite3.connect(to)) as copy:
        db.execute("PRAGMA query_only = 1")
        db.backup(copy)
        copy.execute(
            "PRAGMA journal_mode = DELETE"
        )  # no file beside it; who opens it to write says WAL again


def what_is_wrong(file: Path) -> str | None:
    """What SQLite finds wrong in it; None where it is whole."""
    try:
        with closing(sqlite3.connect(file)) as db:
            said: str = db.execute("PRAGMA integrity_check(1)").fetchone()[0]
    except sqlite3.Error as error:
        return str(error)
    return None if said == "ok" else " ".join(said.split())


def refuse_journal(file: Path, called: Path) -> None:
    """Raises JournalError, under the name it is called, where this version cannot read it."""
    with closing(sqlite3.connect(file, isolation_level=None)) as db:
        refuse_others(called, db, may_be_empty=False)


def refuse_records(file: Path, called: Path) -> None:
    """Raises RecordsVersionError, under the name it is called, where this version cannot read them."""
    from sqlalchemy import create_engine

    from records.migrations import HEAD, found_version

    engine = create_engine(f"sqlite:///{file}")
    try:
        with engine.connect() as connection:
            found = found_version(connection)
    except RecordsVersionError:
        raise RecordsVersionError(f"{called}: another program's database, no records of ours") from None
    finally:
        engine.dispose()
    if found is None or found > HEAD:
        raise RecordsVersionError(
            f"{called}: records of version {HEAD} or earlier were expected, found {found or 'none'}: "
            "restore with the newer ringtrue that made the copy"
        )


def go_on_from_copy(journal: Path) -> None:
    """Have the daemon offer every result to the records again: one may have been delivered after the moment
    in which the records were copied, and what they have already they take once. And have it begin its chain
    anew, which says so: what it issued after the copy was made is in the old one."""
    with closing(open_writer(journal)) as db:
        (number,) = db.execute("SELECT number FROM batch").fetchone()
        write_batch(db, Batch(number=number + 1, resends=[Resend("records")]))
        db.execute("DELETE FROM chain_due")
        db.execute("INSERT INTO chain_due (why) VALUES ('restored')")
        db.execute("PRAGMA journal_mode = DELETE")
