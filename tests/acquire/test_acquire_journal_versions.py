"""A journal made by an earlier version can be read, and grades to what it graded to then.

`data/journal-1.sql` is the dump of a journal of schema 1 with one signed inspection: a rim by encoder and a
face and a thickness typed in, with two recorded results. `data/journal-2.sql` and on are of later ones;
see `kept_journal.py`. No version 3 was ever released, but its journals were brought up like any other: the
step from it is tried alone.
"""

from __future__ import annotations

import asyncio
import json
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path

import pytest

from acquire.errors import JournalError
from acquire.journal.events import body_of
from acquire.journal.file import open_writer
from acquire.journal.migrations import SCHEMA_VERSION, STEPS, Step, version_of
from acquire.journal.reader import JournalReader
from acquire.journal.writer import Journal
from contract.units import Unit
from drivers.reading import Reading
from ringtrue.commands.regrade import regrade_inspection
from ringtrue.rule_changes import changes_since
from tests.acquire.kept_journal import make

DATA = Path(__file__).parent / "data"
INSPECTION = "truck-14"
RIM = 7  # the seq of its beginning, in each of them


def kept(version: int, folder: Path) -> Path:
    file = folder / "journal.db"
    with closing(sqlite3.connect(file)) as db:
        db.executescript((DATA / f"journal-{version}.sql").read_text())
    return file


@pytest.fixture(params=range(1, SCHEMA_VERSION + 1))
def journal(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return kept(request.param, tmp_path)


def test_one_of_each_version_is_kept() -> None:
    assert {file.name for file in DATA.glob("*.sql")} == {
        f"journal-{n + 1}.sql" for n in range(SCHEMA_VERSION)
    }


@pytest.mark.slow
def test_it_grades_to_the_same_bytes_or_it_is_said_which_rule_changed(journal: Path) -> None:
    with closing(JournalReader(journal)) as reader:
        regrades = list(regrade_inspection(reader, None, INSPECTION))
    assert len(regrades) == 2
    for regrade in regrades:
        assert regrade.unexplained == ()
        assert regrade.same or regrade.rules
        # Figures have moved by less than a tenth of their uncertainty, and no outcome with them.
        assert not [d for d in regrade.differences if d.path.endswith((".outcome", "verdict"))]


@pytest.mark.slow
def test_todays_grades_to_the_same_bytes(tmp_path: Path) -> None:
    with closing(JournalReader(make(tmp_path))) as reader:
        assert [regrade.same for regrade in regrade_inspection(reader, None, INSPECTION)] == [True, True]


def test_a_gauge_is_written_as_it_was_in_every_version(journal: Path) -> None:
    """Whole nanometres: what is carried in mm comes back to the same bytes."""
    with closing(sqlite3.connect(journal)) as db:
        bodies = dict(db.execute("SELECT seq, body FROM event WHERE kind = 'sweep-begun'").fetchall())
    with closing(JournalReader(journal)) as reader:
        begun = [event for event in reader.read(INSPECTION) if event.seq in bodies]
    assert len(begun) == len(bodies) > 2
    for event in begun:
        was = json.loads(bodies[event.seq])["gauge"]
        since = {"travel_nm": None, "unit_hidden": False}
        assert json.dumps(body_of(event)["gauge"]) == json.dumps(
            was | {k: was.get(k, since[k]) for k in since}
        )


def test_a_change_of_rule_counts_for_what_was_graded_before_it() -> None:
    assert changes_since("ringtrue 0.1.0") == changes_since("ringtrue 0.0.9") != []
    assert changes_since("ringtrue 0.10.0") == []
    assert changes_since("somebody else") == changes_since(None) == changes_since("ringtrue 0.1.0")


def test_the_daemon_goes_on_with_it(journal: Path) -> None:
    with closing(JournalReader(journal)) as reader:
        before = reader.read(INSPECTION)
    with closing(Journal(journal)) as writer:
        assert writer.latest_inspection() == INSPECTION
        assert writer.read(INSPECTION) == before


def test_what_is_kept_of_a_reading_since_then_can_be_kept_in_it(journal: Path) -> None:
    with closing(Journal(journal)) as writer:
        asyncio.run(_append(writer, RIM, Reading("indicator-1", 900, 1, 2, Unit.NM, u_ns=3)))
    with closing(sqlite3.connect(journal)) as db:
        rows = db.execute("SELECT reading, u_ns FROM sample WHERE sweep = ? ORDER BY seq", (RIM,)).fetchall()
    assert rows[-1] == (900, 3)


def test_one_brought_up_is_as_a_new_one(journal: Path, tmp_path: Path) -> None:
    open_writer(journal).close()
    open_writer(tmp_path / "new.db").close()
    assert shape(journal) == shape(tmp_path / "new.db")


def test_the_last_of_version_1_had_the_column_already(tmp_path: Path) -> None:
    file = kept(1, tmp_path)
    with closing(sqlite3.connect(file)) as db:
        db.execute("ALTER TABLE sample ADD COLUMN u_ns INTEGER NOT NULL DEFAULT 0")
        db.execute("UPDATE sample SET u_ns = 5")
        db.commit()
    open_writer(file).close()
    with closing(sqlite3.connect(file)) as db:
        assert version_of(db) == SCHEMA_VERSION
        assert db.execute("SELECT DISTINCT u_ns FROM sample").fetchall() == [(5,)]


def test_who_only_reads_changes_no_byte_of_it(tmp_path: Path) -> None:
    file = kept(1, tmp_path)
    before = file.read_bytes()
    with closing(JournalReader(file)) as reader:
        assert {event.kind for event in reader.read(INSPECTION)} >= {"opened", "sample", "signed"}
    assert file.read_bytes() == before
    assert sorted(tmp_path.iterdir()) == [file]


# -- steps that no version has had


def add_remark(db: sqlite3.Connection) -> None:
    db.execute("ALTER TABLE event ADD COLUMN remark TEXT NOT NULL DEFAULT ''")
    db.execute("UPDATE event SET remark = 'of before'")


def rename_remark(db: sqlite3.Connection) -> None:
    db.execute("ALTER TABLE event RENAME COLUMN remark TO note")


def go_wrong(db: sqlite3.Connection) -> None:
    rename_remark(db)
    db.execute("DELETE FROM event")
    db.execute("INSERT INTO no_such_table VALUES (1)")


def find_it_odd(db: sqlite3.Connection) -> None:
    db.execute("DELETE FROM event")
    raise ValueError("a body\nthat is odd")


NEXT = SCHEMA_VERSION


def test_several_steps_run_one_after_the_other_and_once(journal: Path) -> None:
    steps: Mapping[int, Step] = {**STEPS, NEXT: add_remark, NEXT + 1: rename_remark}
    for _ in range(2):
        with closing(open_writer(journal, steps)) as db:
            assert version_of(db) == NEXT + 2
            assert db.execute("SELECT DISTINCT note FROM event").fetchall() == [("of before",)]
    with pytest.raises(JournalError, match=rf"version {NEXT + 2}, .* up to {SCHEMA_VERSION}; .* newer"):
        Journal(journal)


@pytest.mark.parametrize(
    ("wrong", "said"), [(go_wrong, "no such table"), (find_it_odd, r"\(a body that is odd\)")]
)
def test_a_step_that_fails_leaves_the_file_as_it_was(
    wrong: Callable[[sqlite3.Connection], None], said: str, journal: Path
) -> None:
    before = journal.read_bytes()
    steps: Mapping[int, Step] = {**STEPS, NEXT: add_remark, NEXT + 1: wrong}
    with pytest.raises(JournalError, match=said) as refused:
        open_writer(journal, steps)
    assert str(refused.value).startswith(f"{journal}: could not be brought from journal version ")
    assert "\n" not in str(refused.value)
    assert journal.read_bytes() == before
    Journal(journal).close()


def shape(file: Path) -> object:
    with closing(sqlite3.connect(file)) as db:
        tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master ORDER BY name")]
        heads = [db.execute(f"PRAGMA {name}").fetchone() for name in ("user_version", "application_id")]
        return heads, {table: db.execute(f"PRAGMA table_info({table})").fetchall() for table in tables}


async def _append(journal: Journal, sweep: int, reading: Reading) -> None:
    await journal.committed(journal.append_sample(sweep, reading))
