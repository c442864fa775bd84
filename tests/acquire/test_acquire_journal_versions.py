"""A journal made by an earlier version can be read, and grades to what it graded to then.

`data/journal-1.sql` is the dump of a journal of schema 1 with one signed inspection: a rim by encoder and a
face and a thickness typed in, with two recorded results.
"""

from __future__ import annotations

import asyncio
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import get_args

import pytest

from acquire.journal.reader import JournalReader
from acquire.journal.writer import Journal
from contract.terms import ObservedName
from contract.units import Unit
from drivers.reading import Reading
from ringtrue.commands.regrade import regrade_inspection

DUMP = Path(__file__).parent / "data/journal-1.sql"
INSPECTION = "truck-14"

_RUNOUT = (
    "the estimate undoes what an uncertain angle flattens, weighs what moves a gauge and is no surface, and"
    " says in `excluded` what it cannot see; figures move by less than a tenth of their uncertainty"
)
_THICKNESS = (
    "places read once are no longer taken to repeat perfectly: the method bounds how a reading repeats, and "
    "the spread is bounded both ways"
)
_ITEMS = "each item says in the method's words what a good one is"
EXPLAINED: dict[str, str] = {
    "checks.rim.": _RUNOUT,
    "checks.face.": _RUNOUT,
    "checks.thickness.": _THICKNESS,
    **{f"checks.{name}.items": _ITEMS for name in get_args(ObservedName)},
    "reasons": "the sentences carry those figures",
}
"""Where today's result of that journal differs from the recorded one: the beginning of a path into the
document, and in words which rule changed since."""


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    file = tmp_path / "journal.db"
    with closing(sqlite3.connect(file)) as db:
        db.executescript(DUMP.read_text())
    return file


def test_it_grades_to_the_same_bytes_or_it_is_said_which_rule_changed(journal: Path) -> None:
    with closing(JournalReader(journal)) as reader:
        regrades = list(regrade_inspection(reader, None, INSPECTION))
    assert [regrade.revision for regrade in regrades] == [3, 16]
    paths = [found.path for regrade in regrades for found in regrade.differences]
    assert [path for path in paths if not path.startswith(tuple(EXPLAINED))] == []
    assert "readings_sha256" not in paths
    assert not [path for path in paths if path.endswith((".outcome", "verdict"))]
    assert all(regrade.same or regrade.differences for regrade in regrades)


def test_the_daemon_goes_on_with_it(journal: Path) -> None:
    with closing(Journal(journal)) as writer:
        assert writer.latest_inspection() == INSPECTION
        assert len(writer.read(INSPECTION)) == 293


def test_what_is_kept_of_a_reading_since_then_can_be_kept_in_it(journal: Path) -> None:
    rim = 7  # the seq of its beginning
    with closing(Journal(journal)) as writer:
        asyncio.run(_append(writer, rim, Reading("indicator-1", 900, 1, 2, Unit.NM, u_ns=3)))
    with closing(sqlite3.connect(journal)) as db:
        rows = db.execute("SELECT reading, u_ns FROM sample WHERE sweep = ? ORDER BY seq", (rim,)).fetchall()
    assert rows[-1] == (900, 3)
    assert {u_ns for _, u_ns in rows[:-1]} == {0}


async def _append(journal: Journal, sweep: int, reading: Reading) -> None:
    await journal.committed(journal.append_sample(sweep, reading))
