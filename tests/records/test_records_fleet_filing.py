"""Messages of bays into PostgreSQL: once, the right ones, and why not the others."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

import pytest

from grading.programme.past import is_found
from records.errors import RecordsUnavailableError
from records.fleet import held
from records.fleet.again import try_again
from records.fleet.latest import latest_documents, superseded, unproven
from records.fleet.reading import read
from ringtrue.pasts import results_of
from tests.parts.issuing import IssuingBay
from tests.parts.postgres import Postgres
from tests.records.filed import Database, database

pytestmark = pytest.mark.slow

PAGE = Path(__file__).parents[2] / "docs/fleet/writer.md"
LONG = "".join(random.Random(1).choices("0123456789ABCDEF", k=9000))


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


def test_a_result_is_kept_to_the_byte_with_its_figures_in_columns(db: Database) -> None:
    bay = IssuingBay()
    messages = bay.issue("truck-14", 3)
    filed = db.filing().file(messages)
    assert (filed.results, filed.records, filed.refused, filed.broken) == (1, 2, [], [])
    assert db.documents() == {("bay-2", "truck-14", 3): messages[0][1]}
    checks = db.rows(
        "SELECT check_name, outcome, tir_mm, true_mm, u_mm, p_over, limit_mm, gauge, engine, damper, verdict,"
        " method_id FROM fleet_checks ORDER BY check_name"
    )
    assert [row[0] for row in checks] == ["face", "rim", "visual"]
    shared = ("GQ-E-2207", "GQ-D-0815", "keep", "example")
    assert checks[1] == ("rim", "within", 0.19, 0.186, 0.008, 0.0001, 0.28, "indicator-1", *shared)
    assert checks[2] == ("visual", "good", None, None, None, None, None, None, *shared)
    assert db.proven() == 1


def test_a_signers_decision_stands_beside_the_verdict_and_goes_before_it(db: Database) -> None:
    bay = IssuingBay()
    decided = bay.issue("truck-14", decision="replace", remark="grooved")
    db.filing().file([*bay.issue("truck-15"), *decided])
    latest = "SELECT DISTINCT inspection, verdict, decision, ended FROM"
    for view in ("fleet_latest", "fleet_latest_checks", "fleet_checks"):
        assert db.rows(f"{latest} {view} ORDER BY 1") == [
            ("truck-14", "keep", "replace", "replace"),
            ("truck-15", "keep", None, "keep"),
        ]


def test_what_is_open_or_was_given_up_did_not_end_in_its_verdict(db: Database) -> None:
    """By the very rule of `due` and `history`."""
    closed = {"closed": "2026-11-26T05:20:40.000Z", "signed": None, "signed_by": None}
    given_up = closed | {"state": "abandoned"}
    said: dict[str, tuple[dict[str, Any], str | None]] = {
        "1": (closed | {"state": "open", "closed": None}, None),
        "2": (closed | {"state": "open", "closed": None, "verdict": "replace"}, None),
        "3": (closed | {"state": "closed"}, "keep"),
        "4": (given_up, None),
        "5": (given_up | {"closed": None, "verdict": "replace"}, None),
        "6": (given_up | {"verdict": "replace"}, "replace"),
        "7": (given_up | {"verdict": "measure-again"}, "measure-again"),
        "8": (given_up | {"decision": "replace", "remark": "grooved"}, "replace"),
    }
    bay = IssuingBay()
    messages = [one for name, (changed, _) in said.items() for one in bay.issue(name, **changed)]
    db.filing().file(messages)
    counts = [(name, ended) for name, (_, ended) in said.items()]
    for view in ("fleet_latest", "fleet_latest_checks", "fleet_checks"):
        assert db.rows(f"SELECT DISTINCT inspection, ended FROM {view} ORDER BY 1") == counts
    results = list(results_of(latest_documents(db.fleet)))
    assert [
        (one.inspection, (one.decision or one.verdict) if is_found(one) else None) for one in results
    ] == counts


def test_a_keep_after_which_another_result_was_issued_counts_no_more_though_that_one_is_missing(
    db: Database,
) -> None:
    """What it came to nobody here knows; what was condemned stays so meanwhile."""
    bay = IssuingBay()
    messages = [*bay.issue("kept"), *bay.issue("condemned", verdict="replace"), *bay.issue("sound")]
    corrected = [bay.issue("kept", 2, verdict="replace"), bay.issue("condemned", 2)]
    db.filing().file([*messages, *(one for _, *signed in corrected for one in signed)])

    def told() -> tuple[list[str], int, dict[str, str]]:
        documents = [json.loads(one)["inspection"] for one in latest_documents(db.fleet)]
        views = [
            dict(db.rows(f"SELECT DISTINCT inspection, ended FROM {view}"))
            for view in ("fleet_latest", "fleet_latest_checks")
        ]
        assert views[0] == views[1]
        return documents, superseded(db.fleet), views[0]

    ended = {"kept": None, "condemned": "replace", "sound": "keep"}
    assert told() == (["condemned", "sound"], 1, ended)
    db.filing().file([document for document, *_ in corrected])
    ended = {"kept": "replace", "condemned": "keep", "sound": "keep"}
    assert told() == (["condemned", "kept", "sound"], 0, ended)


def test_what_the_page_asks_the_tables_is_answered(db: Database) -> None:
    db.filing().file([*IssuingBay().issue("truck-14"), *IssuingBay("bay-3").issue("truck-14")])
    latest, figures = sorted(
        re.findall(r"```sql\n(SELECT .*?);\n```", PAGE.read_text(), re.DOTALL),
        key=lambda query: "avg" in query,
    )
    assert [row[:2] for row in sorted(db.rows(latest))] == [("greywacke", "bay-2"), ("greywacke", "bay-3")]
    assert db.rows(figures) == [("indicator-1", 2, 0.186)]


def test_the_same_again_is_nothing(db: Database) -> None:
    messages = IssuingBay().issue("truck-14")
    db.filing().file(messages)
    before = db.all()
    filed = db.filing().file([*messages, *messages])
    assert (filed.results, filed.records, filed.declined, filed.broken) == (0, 0, [], [])
    assert db.all() == before


def test_a_result_is_unproven_until_its_record_comes(db: Database) -> None:
    bay = IssuingBay()
    document, begun, record, checkpoint = bay.issue("truck-14")
    db.filing().file([document])
    assert (len(db.documents()), db.proven()) == (1, 0)
    db.filing().file([checkpoint])
    db.filing().file([record])
    assert db.rows("SELECT count(*) FROM fleet_walked") == [(0,)]
    db.filing().file([begun])
    assert db.proven() == 1
    assert db.rows("SELECT walked, told FROM fleet_chains") == [(2, 2)]


def test_another_document_under_the_same_revision_is_refused_and_kept(db: Database) -> None:
    bay = IssuingBay()
    messages = bay.issue("truck-14")
    other = bay.document("truck-14", verdict="replace")
    db.filing().file(messages)
    filed = db.filing().file([other])
    assert [one.reason for one in filed.refused] == ["contradicted"]
    assert db.documents()["bay-2", "truck-14", 1] == messages[0][1]
    assert db.refused() == [("contradicted", other[0])]
    assert len(db.rows("SELECT payload FROM fleet_refused")) == 1


def test_an_altered_document_that_came_first_gives_way_to_the_one_that_was_signed(db: Database) -> None:
    bay = IssuingBay()
    true, begun, record, checkpoint = bay.issue("truck-14")
    altered = bay.document("truck-14", verdict="replace")
    db.filing().file([altered])
    db.filing().file([true])  # which of the two is the bay's cannot be told yet
    assert db.documents()["bay-2", "truck-14", 1] == altered[1]
    db.filing().file([begun, record, checkpoint])
    assert db.documents() == {("bay-2", "truck-14", 1): true[1]}
    assert [row[0] for row in db.rows("SELECT verdict FROM fleet_checks")] == ["keep"] * 3
    assert db.refused() == [("contradicted", altered[0])]


@pytest.mark.parametrize(
    ("topic", "says"),
    [("other-bay", {}), ("bay-2", {"bay": "other-bay"}), ("bay-2", {"site": "elsewhere"})],
)
def test_a_topic_that_names_another_bay_is_refused(topic: str, says: dict[str, str], db: Database) -> None:
    named, document = IssuingBay().document("truck-14")
    changed = json.dumps({**json.loads(document), **says}).encode()
    db.filing().file([(named.replace("bay-2", topic), changed)])
    assert [reason for reason, _ in db.refused()] == ["topic"]
    assert db.documents() == {}


def test_another_inspection_in_the_topic_is_refused(db: Database) -> None:
    named, document = IssuingBay().document("truck-14")
    db.filing().file([(named.replace("truck-14", "truck-15"), document)])
    assert [reason for reason, _ in db.refused()] == ["topic"]


def test_a_record_under_another_bays_topic_is_refused(db: Database) -> None:
    """As it was signed, and sent by somebody else: a replay."""
    _, begun, _, checkpoint = IssuingBay().issue("truck-14")
    replayed = [(topic.replace("bay-2", "bay-3"), payload) for topic, payload in (begun, checkpoint)]
    db.filing().file(replayed)
    assert [reason for reason, _ in db.refused()] == ["topic", "topic"]
    assert db.rows("SELECT * FROM fleet_bay_keys") == []


def test_a_forged_bays_messages_are_refused(db: Database) -> None:
    """It has the name and not the key; its results stay unproven, and give way."""
    db.filing().file(IssuingBay().issue("truck-14"))
    forged = IssuingBay(key="somebody else").issue("truck-15")
    db.filing().file(forged)
    assert [reason for reason, _ in db.refused()] == ["other-key"] * 3
    assert db.proven() == 1


def test_what_no_record_names_overrules_nothing(db: Database) -> None:
    """Whoever may write below a bay's root and lacks its key: the result is kept, and is not the latest."""
    bay = IssuingBay()
    db.filing().file([*bay.issue("truck-14", 1), *bay.issue("truck-14", 2, verdict="replace")])
    forged = [bay.document("truck-14", 99), bay.document("truck-15")]
    assert db.filing().file(forged).results == 2
    latest = "SELECT inspection, revision, verdict FROM fleet_latest"
    assert db.rows(latest) == [("truck-14", 2, "replace")]
    checks = db.rows("SELECT DISTINCT inspection, revision FROM fleet_latest_checks")
    assert checks == [("truck-14", 2)]
    assert [json.loads(one)["revision"] for one in latest_documents(db.fleet)] == [2]
    assert unproven(db.fleet) == 2
    record = bay.record(forged[1])
    db.filing().file([record])  # it was the bay's, and came before its record
    assert sorted(db.rows(latest)) == [("truck-14", 2, "replace"), ("truck-15", 1, "keep")]


def test_only_pinned_bays_are_known_where_that_is_the_rule(db: Database) -> None:
    bay, other = IssuingBay(), IssuingBay("bay-3")
    pinned = db.filing(trust="pinned", keys={"greywacke/bay-2": [bay.signer.public_key]})
    pinned.file([*bay.issue("truck-14"), *other.issue("truck-15")])
    assert set(db.documents()) == {("bay-2", "truck-14", 1)}
    assert [reason for reason, _ in db.refused()] == ["unknown-bay"] * 4


def test_a_pinned_key_counts_beside_the_first_that_is_seen(db: Database) -> None:
    bay = IssuingBay()
    forged = IssuingBay(key="somebody else")
    filing = db.filing(keys={"greywacke/bay-2": [bay.signer.public_key]})
    filing.file(forged.issue("truck-15")[1:])
    filing.file([*bay.issue("truck-14"), *IssuingBay("bay-3").issue("truck-16")])
    assert {reason for reason, _ in db.refused()} == {"other-key"}
    assert db.proven() == 2


def test_an_altered_record_is_refused(db: Database) -> None:
    _, begun, record, checkpoint = IssuingBay().issue("truck-14")
    spoilt = [(topic, payload.replace(b"05:20:41", b"05:20:42")) for topic, payload in (record, checkpoint)]
    db.filing().file([begun, *spoilt])
    assert [reason for reason, _ in db.refused()] == ["altered", "altered"]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"no json", "malformed"),
        (b"[]", "malformed"),
        (b'{"schema":"ringtrue/result/1"}', "malformed"),
        (b'{"schema":"another/result/1","inspection":"truck-14"}', "malformed"),
        (b'{"schema":"ringtrue/result/2","inspection":{"name":"truck-14"}}', "newer"),
        (b"\xff\xfe\x00", "malformed"),
        (b'{"a":' * 2000, "malformed"),
    ],
)
def test_what_is_no_result_of_ours_is_refused_and_kept_whole(
    payload: bytes, reason: str, db: Database
) -> None:
    topic, _ = IssuingBay().document("truck-14")
    db.filing().file([(topic, payload), (topic, b"")])
    assert db.refused() == [(reason, topic)]


def test_a_letter_that_the_database_has_not_is_refused_and_holds_nothing_up(db: Database) -> None:
    bay = IssuingBay()
    odd = bay.document("truck-14", engine={"serial": "GQ-\0"})
    good = bay.document("truck-15")
    db.filing().file([odd, good])
    assert db.refused() == [("malformed", odd[0])]
    assert list(db.documents()) == [("bay-2", "truck-15", 1)]


def test_what_the_database_never_takes_is_refused_alone(db: Database) -> None:
    """An index holds no more than a third of a page: such a serial can be sent, and not be stored."""
    bay = IssuingBay()
    odd, good = bay.document("truck-14", engine={"serial": LONG}), bay.document("truck-15")
    db.filing().file([odd, good])
    assert db.refused() == [("unfit", odd[0])]
    assert list(db.documents()) == [("bay-2", "truck-15", 1)]


@pytest.mark.parametrize(("odd", "reason"), [("GQ\0", "unfit"), ("GQ\ud800", "malformed"), (LONG, "unfit")])
def test_a_record_that_no_table_takes_is_refused_alone(odd: str, reason: str, db: Database) -> None:
    """Its signature holds: whoever has a key may sign what he likes."""
    bay, good = IssuingBay(), IssuingBay("bay-3")
    begun, topic = bay.begin(), bay.topics.chain
    said = json.loads(bay.record(bay.document("truck-14"))[1])
    del said["signature"], said["key"]
    try:
        record = bay.signer.signed({**said, "inspection": odd})
    except ValueError:  # no signer of ours writes it; another may
        record = json.dumps({**said, "inspection": odd}).encode()
    db.filing().file([begun, (topic, record), *good.issue("truck-15")])
    assert db.refused() == [(reason, topic)]
    assert db.proven() == 1


def test_a_message_that_makes_this_writer_fail_is_refused_alone(
    db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fault of ours: kept, said, and taken up by --again once it is mended; nothing else waits for it."""

    def failing(topic: str, payload: bytes) -> object:
        if "truck-14" in topic:
            raise ZeroDivisionError
        return read(topic, payload)

    bay = IssuingBay()
    monkeypatch.setattr("records.fleet.filing.read", failing)
    messages = [*bay.issue("truck-14"), *bay.issue("truck-15")]
    db.filing().file(messages)
    assert db.refused() == [("unfit", messages[0][0])]
    assert db.proven() == 1
    monkeypatch.undo()
    assert try_again(db.fleet, db.filing()) == (1, 0)
    assert db.proven() == 2


def test_of_very_many_bays_so_many_are_filed_at_once_as_there_are_locks(
    db: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PostgreSQL has room for so many locks of all sessions together, and one is taken for each bay."""
    monkeypatch.setattr("records.fleet.filing.BAYS_MAX", 3)
    real, numbers = held.look, []

    def looking(connection: Any, bays: Collection[Any], *others: Any) -> Any:
        numbers.append(len(bays))
        return real(connection, bays, *others)

    monkeypatch.setattr(held, "look", looking)
    bays = [IssuingBay(f"bay-{n}") for n in range(8)]
    odd = (bays[0].topics.chain, b"no record")
    found = db.filing().file([odd, *(one for bay in bays for one in bay.issue("truck-14"))])
    assert (found.results, found.records, len(found.refused)) == (8, 16, 1)
    assert max(numbers) <= 3
    assert db.proven() == 8


def test_a_clock_that_is_plainly_wrong_makes_no_month_of_its_own(db: Database) -> None:
    bay = IssuingBay()
    days = ("1970-01-01T00:00:04Z", "2093-05-01T00:00:00Z", "0001-01-01T00:00:00+23:00")
    for number, opened in enumerate((*days, "2026-03-31T23:00:00Z")):
        db.filing().file([bay.document(f"truck-{number}", opened=opened, closed=None)])
    months = [str(month) for (month,) in db.rows("SELECT month FROM fleet_results ORDER BY inspection")]
    assert months == [*["2026-11-01"] * 3, "2026-03-01"]


def test_without_its_tables_a_database_is_refused_in_a_line(postgres: Postgres) -> None:
    bare = Database(postgres.make())
    with pytest.raises(RecordsUnavailableError, match="writer --prepare"):
        bare.filing().file(IssuingBay().issue("truck-14"))
    bare.fleet.close()
