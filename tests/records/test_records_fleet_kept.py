"""What a fleet's database keeps: over versions of its tables, and of what is refused so much."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from records.errors import RecordsUnavailableError
from records.fleet import storing
from records.fleet.letting_go import LettingGo
from records.fleet.migrations import HEAD
from records.fleet.reading import pack
from records.fleet.rows import result_row
from records.fleet.standing import standing
from records.fleet.tables import METADATA
from tests.parts.issuing import IssuingBay
from tests.parts.postgres import Postgres
from tests.records.filed import TABLES, Database, database

pytestmark = pytest.mark.slow

KEPT = Path(__file__).parent / "data"
LARGE = 10**9


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


def kept(postgres: Postgres, version: str) -> str:
    """A database as `pg_dump` gave it when that version was today's; its address."""
    url = postgres.make()
    with psycopg.connect(url.replace("+psycopg", ""), autocommit=True) as connection:
        connection.execute((KEPT / f"fleet-{version}.sql").read_bytes())
    return url


@pytest.mark.parametrize("version", [f"{number:04}" for number in range(1, int(HEAD) + 1)])
def test_every_version_that_there_was_becomes_todays_with_all_that_it_held(
    version: str, postgres: Postgres
) -> None:
    url = kept(postgres, version)
    writer = f"writer_{url.rpartition('/')[2]}"
    with psycopg.connect(url.replace("+psycopg", ""), autocommit=True) as connection:
        before = {
            name: sorted(connection.execute(query).fetchall(), key=repr) for name, query in TABLES.items()
        }
        connection.execute(f"CREATE ROLE {writer}")
        connection.execute(
            f"GRANT EXECUTE ON FUNCTION fleet_withdraw(text, text, text, integer) TO {writer};"
            f"GRANT SELECT ON fleet_refused_still, fleet_checks TO {writer}"
        )
        if version > "0001":
            connection.execute(
                f"GRANT EXECUTE ON FUNCTION fleet_let_go(bigint, bigint) TO {writer};"
                f"GRANT SELECT ON fleet_refused_gone TO {writer}"
            )
    db = Database(url)
    with closing(db.fleet):
        assert db.fleet.prepare() == (version, HEAD)
        assert db.all() == before
        assert len(before["results"]) == 6
        found = standing(db.fleet)
        assert (found.results, found.unproven, found.missing) == (6, 3, 1)
        assert found.refused == {"forked": 1, "malformed": 1, "newer": 1, "other-key": 3}
        assert db.filing().file(IssuingBay("bay-4").issue("truck-14")).results == 1
        with db.fleet.transaction() as connection:
            ours = {"include_name": lambda name, kind, _: kind != "table" or name in METADATA.tables}
            assert compare_metadata(MigrationContext.configure(connection, opts=ours), METADATA) == []
        may = db.rows(
            f"SELECT has_function_privilege('{writer}', 'fleet_let_go(bigint, bigint)', 'EXECUTE'),"
            f" has_table_privilege('{writer}', 'fleet_refused_gone', 'SELECT'),"
            f" has_table_privilege('{writer}', 'fleet_checks', 'SELECT'),"
            f" has_table_privilege('{writer}', 'fleet_refused', 'DELETE')"
        )
        assert may == [(True, True, True, False)]


@pytest.mark.parametrize("version", ["0001", "0003"])
def test_decisions_of_results_that_are_kept_stand_in_their_column_after_an_upgrade(
    version: str, postgres: Postgres
) -> None:
    """Of two months, and of more results than are read at once."""
    url, bay = kept(postgres, version), IssuingBay("bay-9")
    expected = []
    with psycopg.connect(url.replace("+psycopg", "")) as connection:
        connection.execute("SELECT fleet_make_month('2026-12-01')")
        connection.execute("CREATE TEMP TABLE one AS SELECT * FROM fleet_results ORDER BY inspection LIMIT 1")
        for n in range(430):
            decision = {0: "replace", 9: "measure-again"}.get(n % 10)
            name, month = f"truck-{n:03}", f"2026-{11 + n % 2}-01"
            document = bay.document(name, decision=decision, remark='a "decision"')[1]
            connection.execute(
                "UPDATE one SET bay = 'bay-9', inspection = %s, month = %s, document = %s",
                (name, month, pack(document)),
            )
            connection.execute("INSERT INTO fleet_results SELECT * FROM one")
            connection.execute(
                "INSERT INTO fleet_revisions SELECT site, bay, inspection, revision, 'a', month FROM one"
            )
            expected.append((name, decision, decision or "keep"))
    db = Database(url)
    with closing(db.fleet):
        db.fleet.prepare()
        said = "SELECT inspection, decision, coalesce(decision, verdict) FROM fleet_results"
        assert db.rows(f"{said} WHERE bay = 'bay-9' ORDER BY 1") == expected
        assert not db.rows(f"{said} WHERE bay <> 'bay-9' AND decision IS NOT NULL")


def test_a_writer_of_before_that_goes_on_at_work_leaves_no_decision_out(
    db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It fills the columns that it knows, and looked at the tables' version before they were brought up."""
    messages = IssuingBay().issue("truck-14", decision="replace", remark="grooved")
    with monkeypatch.context() as patch:
        statement, columns = storing._RESULTS
        old = statement.replace(", decision)", ")")
        assert old != statement
        patch.setattr(storing, "_RESULTS", (old, columns[:-1]))
        patch.setattr(storing, "result_row", lambda one, month: result_row(one, month)[:-1])
        for _ in range(2):
            with pytest.raises(RecordsUnavailableError, match="start a newer one"):
                db.filing().file(messages)
    assert db.documents() == {}
    assert db.refused() == []
    assert db.filing().file(messages).results == 1
    assert db.rows("SELECT verdict, decision, ended FROM fleet_latest") == [("keep", "replace", "replace")]


def refuse(db: Database, *payloads: bytes, hours: int) -> None:
    """So many no records, and as if they had come so long before."""
    topic = IssuingBay().topics.chain
    db.filing().file([(topic, payload) for payload in payloads])
    aged = f"UPDATE fleet_refused SET stored = stored - interval '{hours} hours'"
    with db.fleet.transaction() as connection:
        connection.exec_driver_sql(f"{aged} WHERE stored > now() - interval '1 hour'")


async def test_beyond_what_is_kept_the_oldest_refused_go_and_are_counted(
    db: Database, capsys: pytest.CaptureFixture[str]
) -> None:
    bay = IssuingBay()
    topic, document = bay.document("truck-19")
    db.filing().file([*bay.issue("truck-14"), (topic, document.replace(b"result/1", b"result/2"))])
    refuse(db, b"oldest", hours=9)
    refuse(db, b"middle", b"middle too", hours=5)
    refuse(db, b"newest", hours=2)
    before = db.all()
    await LettingGo(db.fleet, 5, LARGE).look()
    assert db.all() == before
    assert capsys.readouterr().out == ""
    for _ in range(2):  # the second finds nothing to do
        await LettingGo(db.fleet, 2, LARGE).look()
    # What a newer writer takes up goes last, though it is the oldest but one.
    assert [reason for reason, _ in db.refused()] == ["malformed", "newer"]
    said = capsys.readouterr().out
    assert said.count("more is refused than is kept") == 1
    assert "messages=3 reason=malformed" in said
    found = standing(db.fleet)
    assert [(one["reason"], one["number"]) for one in found.let_go] == [("malformed", 3)]
    after = db.all()
    assert {name: rows for name, rows in after.items() if name != "refused"} == {
        name: rows for name, rows in before.items() if name != "refused"
    }
    ((size,),) = db.rows("SELECT max(octet_length(payload)) FROM fleet_refused")
    await LettingGo(db.fleet, 100, size).look()
    assert [reason for reason, _ in db.refused()] == ["newer"]
    assert [(one["reason"], one["number"]) for one in standing(db.fleet).let_go] == [("malformed", 4)]


async def test_what_was_taken_up_since_goes_first_and_is_no_loss(db: Database) -> None:
    old, new = IssuingBay(), IssuingBay(key="another")
    db.filing().file(old.issue("truck-14"))
    db.filing().file(new.issue("truck-15"))
    refuse(db, b"no record", hours=3)
    with db.fleet.transaction() as connection:
        connection.exec_driver_sql(
            "INSERT INTO fleet_taken_up (sha256, topic) SELECT sha256, topic FROM fleet_refused"
            " WHERE reason = 'other-key'"
        )
    await LettingGo(db.fleet, 1, LARGE).look()
    assert db.rows("SELECT reason FROM fleet_refused") == [("malformed",)]
    assert standing(db.fleet).let_go == []
