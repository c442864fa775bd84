"""What is no journal of ours is left alone and said; what is damaged is said with its file."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from acquire.errors import AcquireError, JournalError
from acquire.journal.migrations import SCHEMA_VERSION
from acquire.journal.reader import JournalReader
from acquire.journal.writer import Journal
from tests.acquire.workbench import INDICATOR, Workbench

Open = Callable[[Path], JournalReader]
NOBODY = 65534
"""On Linux the user who owns nothing."""


@pytest.mark.parametrize("opens", [Journal, JournalReader])
@pytest.mark.parametrize("mark", ["", "PRAGMA user_version = 1", "PRAGMA application_id = 77"])
def test_another_programs_database_is_refused_and_not_touched(opens: Open, mark: str, tmp_path: Path) -> None:
    file = tmp_path / "other.db"
    with closing(sqlite3.connect(file)) as db:
        db.executescript(f"CREATE TABLE results (inspection TEXT); {mark}")
    before = file.read_bytes()
    with pytest.raises(JournalError, match=r"other\.db: .*another program.*results.*\[journal\] path"):
        opens(file)
    assert file.read_bytes() == before
    assert not (tmp_path / "other.db-wal").exists()


def test_a_database_marked_as_anothers_is_refused_though_it_is_empty(tmp_path: Path) -> None:
    file = tmp_path / "other.db"
    with closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA application_id = 77")
    with pytest.raises(JournalError, match="another program"):
        Journal(file)


@pytest.mark.parametrize("opens", [Journal, JournalReader])
@pytest.mark.parametrize(
    ("version", "said"),
    [
        (SCHEMA_VERSION + 1, rf"version {SCHEMA_VERSION + 1}, .* up to {SCHEMA_VERSION}; .*start the newer"),
        (0, rf"version 1 to {SCHEMA_VERSION} was expected, found 0; .*\[journal\] path"),
        (-1, "found -1"),
    ],
)
def test_a_version_unknown_here_is_refused_and_not_touched(
    opens: Open, version: int, said: str, tmp_path: Path
) -> None:
    file = tmp_path / "j.db"
    Journal(file).close()
    with closing(sqlite3.connect(file)) as db:
        db.execute(f"PRAGMA user_version = {version}")
    before = file.read_bytes()
    with pytest.raises(JournalError, match=rf"j\.db: .*{said}") as refused:
        opens(file)
    assert "\n" not in str(refused.value)
    assert file.read_bytes() == before


def test_a_journal_says_whose_it_is(tmp_path: Path) -> None:
    Journal(tmp_path / "j.db").close()
    with closing(sqlite3.connect(tmp_path / "j.db")) as db:
        assert db.execute("PRAGMA application_id").fetchone() == (0x52544A4C,)


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE event SET body = '{' WHERE seq = 1",
        "UPDATE event SET body = CAST(x'ff' AS TEXT) WHERE seq = 1",
        "UPDATE event SET kind = 'dance' WHERE seq = 2",
        "DELETE FROM event WHERE seq = 2",
        "UPDATE event SET seq = 100 WHERE seq = 1",
        "UPDATE sample SET unit = 'ell'",
        "UPDATE sample SET value = 'x'",
    ],
)
def test_damage_within_is_said_with_the_file(damage: str, tmp_path: Path) -> None:
    bench = Workbench(tmp_path)
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    bench.bar(0, 10)
    bench.do("end")
    bench.close()
    with closing(sqlite3.connect(bench.path)) as db:
        db.execute(damage)
        db.commit()
    with pytest.raises(AcquireError) as refused:
        bench.start()
    bench.close()
    assert str(bench.path) in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("name", ["journal.db", "var/journal.db"])
def test_a_folder_that_may_not_be_written_is_said_with_the_key(name: str) -> None:
    """Root may write everywhere: where the tests are root's they are nobody's for so long."""
    was = os.geteuid()
    with TemporaryDirectory() as place:
        Path(place).chmod(0o555)
        try:
            os.seteuid(was or NOBODY)
            with pytest.raises(JournalError) as told:
                Journal(Path(place) / name)
        finally:
            os.seteuid(was)
            Path(place).chmod(0o755)
    assert str(told.value) == (
        f"{place}/{name}: cannot be made (Permission denied); choose another [journal] path"
    )
