"""Records outlive versions: made, stamped, brought up or refused, by what the database says and holds."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, create_engine, text

from records.errors import RecordsUnavailableError, RecordsVersionError
from records.forwarding.deliveries import Deliveries
from records.migrations import HEAD, SCRIPTS, VERSION_TABLE, VERSIONS, bring_up, found_version
from records.register.register import Register
from records.store import Store
from records.tables import METADATA, RESULTS
from tests.parts.postgres import Postgres
from tests.records.kept_records import KEPT, RECEIVER, REGISTER
from tests.records.test_records_store import document

NEXT = """
import sqlalchemy as sa
from alembic import op
revision, down_revision = "9001", "{head}"
def upgrade():
    op.add_column("results", sa.Column("remark", sa.String, nullable=False, server_default="of before"))
    {more}
"""

AS_BEFORE_VERSIONS = """
CREATE TABLE results (
    inspection VARCHAR NOT NULL, revision INTEGER NOT NULL, state VARCHAR NOT NULL, site VARCHAR NOT NULL,
    bay VARCHAR NOT NULL, engine VARCHAR NOT NULL, damper VARCHAR NOT NULL, verdict VARCHAR NOT NULL,
    opened VARCHAR NOT NULL, stored VARCHAR NOT NULL, sha256 VARCHAR NOT NULL, document BLOB NOT NULL,
    PRIMARY KEY (inspection, revision));
CREATE INDEX ix_results_damper ON results (damper);
CREATE INDEX ix_results_engine ON results (engine);
CREATE INDEX ix_results_stored ON results (stored);
INSERT INTO results VALUES ('GQ-0', 1, 'closed', 'greywacke', 'bay-2', 'GQ-E-2207', 'GQ-D-0815', 'keep',
    '2026-03-02T06:00:00.000Z', '2026-03-02T07:00:00.000Z', '', x'7b7d');
"""
"""What the first ringtrue wrote, which said no version."""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "records.db"


def url(file: Path) -> str:
    return f"sqlite:///{file}"


def script(folder: Path, more: str = "pass") -> Path:
    (folder / "later").mkdir()
    (folder / "later" / "v9001_remark.py").write_text(NEXT.format(head=HEAD, more=more))
    return folder / "later"


def before_versions(file: Path) -> None:
    with closing(sqlite3.connect(file)) as db:
        db.executescript(AS_BEFORE_VERSIONS)


def version(file: Path) -> str:
    with closing(sqlite3.connect(file)) as db:
        return str(db.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone()[0])


def put_one(url: str) -> None:
    with closing(Store(url)) as store:
        assert store.put(document()) is True


def test_the_newest_script_is_the_version_that_is_looked_for() -> None:
    assert ScriptDirectory(str(SCRIPTS)).get_heads() == [HEAD]


def test_the_scripts_make_the_tables_that_the_store_uses(file: Path) -> None:
    put_one(url(file))
    engine = create_engine(url(file))
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
        assert compare_metadata(context, METADATA) == []
    engine.dispose()
    assert version(file) == HEAD


def test_todays_tables_without_a_version_are_stamped_and_kept(file: Path) -> None:
    before_versions(file)
    put_one(url(file))
    assert version(file) == HEAD
    with closing(Store(url(file), create=False)) as store:
        assert store.get("GQ-0") == b"{}"
        assert store.get("GQ-1") == document()


def test_who_only_reads_brings_nothing_up(file: Path) -> None:
    before_versions(file)
    before = file.read_bytes()
    with (
        closing(Store(url(file), create=False)) as store,
        pytest.raises(RecordsVersionError, match=r"version 0001, older .* daemon brings it up"),
    ):
        list(store.latest())
    assert file.read_bytes() == before


@pytest.mark.parametrize("kept", sorted(KEPT.glob("records-*.sql")), ids=lambda path: path.stem)
def test_records_kept_of_each_version_are_brought_up_with_all_they_hold(kept: Path, file: Path) -> None:
    with closing(sqlite3.connect(file)) as db:
        db.executescript(kept.read_text())
    with closing(Store(url(file))) as store:
        latest = [document("GQ-1"), document("GQ-2", revision=2)]
        assert list(store.latest()) == latest
        assert store.put(document("GQ-3")) is True
    with closing(Register(url(file))) as register:
        held = {table: list(rows.values()) for table, rows in register.load().items()}
    had = kept.stem >= "records-0002"
    assert held == {table: [row] if had else [] for table, row in REGISTER.items()}
    with closing(Deliveries(url(file), RECEIVER)) as deliveries:
        standing = deliveries.standing()
    has_receiver = kept.stem >= "records-0004"
    assert (standing.delivered, standing.waiting) == ((1, 3) if has_receiver else (0, 4))
    assert version(file) == HEAD


def test_a_version_is_kept_for_each_that_has_landed() -> None:
    assert [path.stem for path in sorted(KEPT.glob("records-*.sql"))] == [
        f"records-{number:04}" for number in range(1, int(HEAD) + 1)
    ]


@pytest.mark.parametrize("make", [before_versions, lambda file: put_one(url(file))])
def test_an_older_one_is_brought_up(make: Callable[[Path], None], file: Path, tmp_path: Path) -> None:
    make(file)
    later = script(tmp_path)
    engine = create_engine(url(file))
    for _ in range(2):
        bring_up(engine, (VERSIONS, later))
    engine.dispose()
    assert version(file) == "9001"
    with closing(sqlite3.connect(file)) as db:
        assert db.execute("SELECT remark FROM results").fetchall() == [("of before",)]


def test_a_step_that_fails_leaves_it_as_it_was(file: Path, tmp_path: Path) -> None:
    before_versions(file)
    before = file.read_bytes()
    engine = create_engine(url(file))
    with pytest.raises(ValueError, match="a row that is odd"):
        bring_up(engine, (VERSIONS, script(tmp_path, "raise ValueError('a row that is odd')")))
    engine.dispose()
    assert file.read_bytes() == before


@pytest.mark.parametrize("create", [True, False])
def test_a_newer_one_is_refused_and_not_touched(create: bool, file: Path) -> None:
    put_one(url(file))
    with closing(sqlite3.connect(file)) as db:
        db.execute(f"UPDATE {VERSION_TABLE} SET version_num = '9001'")
        db.commit()
    before = file.read_bytes()
    with closing(Store(url(file), create=create)) as store:
        with pytest.raises(
            RecordsVersionError, match=rf"version 9001, .* up to {HEAD}; .* newer ringtrue"
        ) as no:
            store.get("GQ-1")
        assert str(no.value).count("\n") == 0
    assert file.read_bytes() == before


@pytest.mark.parametrize("table", ["results (id INTEGER)", "sample (seq INTEGER)"])
def test_another_programs_database_is_refused_and_not_touched(table: str, file: Path) -> None:
    with closing(sqlite3.connect(file)) as db:
        db.execute(f"CREATE TABLE {table}")
    before = file.read_bytes()
    with (
        closing(Store(url(file))) as store,
        pytest.raises(RecordsUnavailableError, match=r"records\.db is another program's .*\[records\] url"),
    ):
        store.put(document())
    assert file.read_bytes() == before
    assert [found.name for found in file.parent.iterdir()] == ["records.db"]


def test_an_empty_one_has_no_records_for_who_only_reads(file: Path) -> None:
    file.touch()
    with (
        closing(Store(url(file), create=False)) as store,
        pytest.raises(RecordsVersionError, match="no records yet"),
    ):
        list(store.latest())
    assert file.read_bytes() == b""


@pytest.mark.heavy
def test_all_of_it_on_postgresql(postgres: Postgres, tmp_path: Path) -> None:
    fresh = postgres.make("fresh")
    with ThreadPoolExecutor(4) as pool:  # four bays that start at once
        assert sum(pool.map(_put, [fresh] * 4)) == 1
    with closing(Store(fresh, create=False)) as store:
        assert list(store.latest()) == [document()]
    engine = create_engine(fresh)
    assert _version(engine) == HEAD
    with pytest.raises(ValueError, match="odd"):
        bring_up(engine, (VERSIONS, script(tmp_path, "raise ValueError('odd')")))
    assert _version(engine) == HEAD
    script(tmp_path / "later")
    bring_up(engine, (VERSIONS, tmp_path / "later" / "later"))
    assert _version(engine) == "9001"
    with (
        closing(Store(fresh)) as store,
        pytest.raises(RecordsVersionError, match="version 9001") as refused,
    ):
        store.put(document())
    assert "secret" not in str(refused.value)
    engine.dispose()

    unstamped = postgres.make("unstamped")
    engine = create_engine(unstamped)
    METADATA.create_all(engine, [RESULTS])
    put_one(unstamped)
    assert _version(engine) == HEAD
    engine.dispose()


def _put(address: str) -> bool:
    with closing(Store(address)) as store:
        return store.put(document())


def _version(engine: Engine) -> str | None:
    with engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM results")).scalar() == 1
        return found_version(connection)
