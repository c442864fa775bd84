"""How a journal of an earlier version becomes one of today's: small steps, forward only, all or nothing."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path

from acquire.errors import JournalError

APPLICATION_ID = 0x52_54_4A_4C
"""In SQLite's header, so that other tools can tell whose file it is ("RTJL"); the first journals have 0."""

Step = Callable[[sqlite3.Connection], object]
"""Makes version n + 1 of version n within a transaction that is not its own: `execute`, never
`executescript`, which would commit."""


def _uncertain_times(db: sqlite3.Connection) -> None:
    """A reading keeps how uncertain its time is: 0 for those of before. The file says whose it is.

    The last journals of version 1 have the column already.
    """
    if not any(column[1] == "u_ns" for column in db.execute("PRAGMA table_info(sample)")):
        db.execute("ALTER TABLE sample ADD COLUMN u_ns INTEGER NOT NULL DEFAULT 0")
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _header_whole(db: sqlite3.Connection) -> None:
    """What an inspection is of stands in one `header`, with the keys of the result document."""
    for seq, body in db.execute("SELECT seq, body FROM event WHERE kind = 'opened'").fetchall():
        said = json.loads(body)
        header = {key: said.pop(key) for key in ("site", "bay", "scope")}
        header["engine"] = {"serial": said.pop("engine")}
        header["engine"] |= {key: said.pop(key, None) for key in ("distance_km", "hours_h")}
        header["damper"] = {"serial": said.pop("damper"), "construction": said.pop("construction", None)}
        header |= {"work_order": said.pop("work_order", None), "opened": said.pop("utc")}
        text = json.dumps({"header": header, **said}, ensure_ascii=False, separators=(",", ":"))
        db.execute("UPDATE event SET body = ? WHERE seq = ?", (text, seq))


def _chained(db: sqlite3.Connection) -> None:
    """Room for the chain. The bay's key, which only the daemon has, signs what is there at its next start."""
    db.execute(
        "CREATE TABLE chain (n INTEGER PRIMARY KEY, chain TEXT NOT NULL, inspection TEXT, revision INTEGER,"
        " record BLOB NOT NULL, UNIQUE (inspection, revision))"
    )
    db.execute("CREATE INDEX chain_chain ON chain (chain, n)")
    db.execute("CREATE TABLE chain_due (why TEXT NOT NULL)")
    db.execute("CREATE TABLE checkpoint (message BLOB NOT NULL)")


STEPS: Mapping[int, Step] = {1: _uncertain_times, 2: _header_whole, 3: _chained}
"""Version → the step from it to the next. A step that has landed is never changed."""

SCHEMA_VERSION = max(STEPS) + 1
"""Today's; kept in SQLite's user_version."""


def version_of(db: sqlite3.Connection) -> int:
    """What the file says of itself; 0: nothing."""
    version: int = db.execute("PRAGMA user_version").fetchone()[0]
    return version


def migrate(path: Path, db: sqlite3.Connection, steps: Mapping[int, Step] = STEPS) -> None:
    """Bring a journal up, in one transaction; one that is up already is not touched.

    db: in autocommit. Raises JournalError where a step fails; the file is then as it was.
    """
    found = version = version_of(db)
    if found not in steps:
        return
    try:
        db.execute("BEGIN IMMEDIATE")
        while version in steps:
            steps[version](db)
            version += 1
            db.execute(f"PRAGMA user_version = {version}")
        db.execute("COMMIT")
    except Exception as error:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise JournalError(
            f"{path}: could not be brought from journal version {found} to {version + 1} "
            f"({' '.join(str(error).split())}); it is as it was: look at the disk and its free space, "
            "or go on with the older ringtrue"
        ) from error
