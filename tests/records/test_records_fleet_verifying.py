"""Chains verified as they come: what breaks one is named, and a gap is none."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from chain.merkle import Frontier
from chain.signing import canonical
from config.writer import BaysSettings
from contract.chain import CHECKPOINT_SCHEMA
from records.fleet.arriving import Batch
from records.fleet.bays import Bays
from records.fleet.fetching import Fetching
from records.fleet.filing import Filing
from records.fleet.reading import read
from records.fleet.standing import standing
from tests.link.outside import json_of
from tests.parts.issuing import TIME, IssuingBay
from tests.parts.postgres import Postgres
from tests.records.filed import NOW, Database, database

pytestmark = pytest.mark.slow


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


def breaks(db: Database) -> list[tuple[str, int]]:
    return [(what, place) for what, place in db.rows("SELECT what, place FROM fleet_breaks ORDER BY place")]


def test_a_chain_that_forks_is_named_and_the_second_record_refused(db: Database) -> None:
    bay, twin = IssuingBay(), IssuingBay()  # two daemons with one key
    db.filing().file(bay.issue("truck-14"))
    filed = db.filing().file(twin.issue("truck-15"))
    assert breaks(db)[0] == ("record-twice", 1)
    assert [one.reason for one in filed.refused] == ["forked"]
    assert "another record is in this place" in filed.broken[0].in_words()
    assert "greywacke/bay-2, record 1" in filed.broken[0].in_words()


def test_a_record_that_names_another_before_it_breaks_the_chain_there(db: Database) -> None:
    bay, twin = IssuingBay(), IssuingBay()
    first, second = bay.issue("truck-14"), bay.issue("truck-15")
    other = twin.issue("truck-14", verdict="replace")
    db.filing().file([*second, *other[:3]])  # the twin's record is in place 1
    assert breaks(db) == [("altered-record", 1)]
    assert db.rows("SELECT max(size) FROM fleet_walked") == [(2,)]
    db.filing().file(first)
    assert ("record-twice", 1) in breaks(db)


def test_a_checkpoint_that_does_not_hold_is_named_whichever_comes_first(db: Database) -> None:
    for number, is_first in enumerate((True, False)):
        bay = IssuingBay(f"bay-{number}")
        messages = bay.issue("truck-14")
        said = {"schema": CHECKPOINT_SCHEMA, "size": 2, "root": Frontier().root().hex()}
        wrong = (bay.topics.checkpoint, bay.signer.signed(bay._named(said, TIME)))
        for batch in [[wrong], messages] if is_first else [messages, [wrong]]:
            db.filing().file(batch)
    assert breaks(db) == [("checkpoint", 1), ("checkpoint", 1)]


def told(bay: IssuingBay, size: int, root: str) -> tuple[str, bytes]:
    """A checkpoint that the bay signs, whatever is so."""
    said = {"schema": CHECKPOINT_SCHEMA, "size": size, "root": root}
    return bay.topics.checkpoint, bay.signer.signed(bay._named(said, TIME))


SIZES = (1, 2, 63, 64, 65, 100, 127, 128, 129, 199)


@pytest.mark.parametrize("batch", [1000, 37, 1])
def test_a_checkpoint_is_held_against_the_records_whenever_it_comes(batch: int, db: Database) -> None:
    """Before all of them, with them, or when they are long walked; right ones, then wrong ones."""
    first, later = IssuingBay("bay-1"), IssuingBay("bay-2")
    bays = [first, later]
    for bay in bays:
        tree, records, right = Frontier(), [], []
        for n in range(200):
            records.append(bay.record(bay.document(f"truck-{n}")) if n else bay.begin())
            tree = tree.grown(records[-1][1])
            if tree.size in SIZES:
                right.append(told(bay, tree.size, tree.root().hex()))
        wrong = [told(bay, size, "a" * 64) for size in SIZES]
        filing = db.filing()
        for one in right if bay is first else ():
            filing.file([one])
        if bay is first:
            filing.file(wrong[::2])
        for n in range(0, 200, batch):
            filing.file(records[n : n + batch])
        assert db.rows(f"SELECT max(size) FROM fleet_walked WHERE bay = '{bay.topics.bay}'") == [(200,)]
        for one in right if bay is later else ():
            filing.file([one])
        if bay is later:
            assert breaks(db) == [("checkpoint", size - 1) for size in SIZES]
        filing.file(wrong[1::2] if bay is first else wrong)
        assert [place for _, place in breaks(db)] == sorted(
            size - 1 for size in SIZES for _ in range(1 + bays.index(bay))
        )


def forged(checkpoint: tuple[str, bytes], **changed: Any) -> tuple[str, bytes]:
    """The same, changed, and signed by nobody."""
    said = json_of(checkpoint[1].decode())
    return checkpoint[0], canonical(said | changed | {"signature": said["signature"][::-1]})


def test_what_nobody_signed_is_no_evidence_beside_what_the_bay_did(db: Database) -> None:
    """Whoever can publish under a bay's root sends checkpoints with a signature that does not hold. One that
    says otherwise than the bay's records is refused; one that says the same is refused by itself or beside
    the genuine one of its size, and beside a larger one alone left out: nothing of it is kept, and nothing
    rests on it."""
    bay = IssuingBay()
    db.filing().file([bay.begin()])
    messages = [one for n in range(4) for one in bay.issue(f"truck-{n}")]
    genuine = [one for one in messages if one[0].endswith("/checkpoint")]
    same, other = forged(genuine[0]), forged(genuine[1], root="b" * 64)
    beyond, alone = forged(genuine[1], size=9), forged(genuine[2])
    messages.remove(genuine[2])
    db.filing().file([same, other, beyond, alone, *messages])
    assert db.refused() == [("altered", bay.topics.checkpoint)] * 3
    assert breaks(db) == []
    kept = {message for (message,) in db.rows("SELECT message FROM fleet_checkpoints")}
    assert kept == {genuine[-1][1]}
    db.filing().file([alone])
    assert db.refused() == [("altered", bay.topics.checkpoint)] * 4
    assert len(db.documents()) == db.proven() == 4


def test_a_checkpoint_that_the_bay_signed_and_its_records_deny_is_kept_beside_a_larger(db: Database) -> None:
    bay = IssuingBay()
    messages = [one for n in range(4) for one in bay.issue(f"truck-{n}")]
    wrong = told(bay, 2, "b" * 64)
    db.filing().file([wrong, *messages])
    assert breaks(db) == [("checkpoint", 1)]
    assert (wrong[1],) in db.rows("SELECT message FROM fleet_checkpoints")


def test_over_a_gap_every_checkpoint_is_verified_and_kept(db: Database) -> None:
    bay = IssuingBay()
    messages = [one for n in range(4) for one in bay.issue(f"truck-{n}")]
    genuine = [one for one in messages if one[0].endswith("/checkpoint")]
    without_first = [one for one in messages if not one[0].endswith("/chain")]
    db.filing().file([*without_first, forged(genuine[1])])
    assert db.refused() == [("altered", bay.topics.checkpoint)]
    assert db.rows("SELECT count(*) FROM fleet_checkpoints") == [(4,)]


def test_no_key_is_kept_for_a_bay_by_what_nobody_signed(db: Database) -> None:
    """Also where a batch is filed in halves, and each goes without what was verified in the other."""
    bay, other = IssuingBay(), IssuingBay(key="somebody else")
    ours, theirs = bay.issue("truck-14")[-1], other.issue("truck-14")[-1]
    filing = db.filing()
    filing.put([read(*forged(theirs))])
    assert db.rows("SELECT key FROM fleet_bay_keys") == []
    assert db.refused() == [("altered", bay.topics.checkpoint)]
    filing.put([read(*ours)])
    assert db.rows("SELECT key FROM fleet_bay_keys") == [(bay.signer.public_key,)]


def test_a_chain_that_comes_after_other_records_than_there_are_is_named(db: Database) -> None:
    bay, twin = IssuingBay(), IssuingBay()
    twin.issue("truck-14", verdict="replace")
    db.filing().file(bay.issue("truck-14"))
    db.filing().file([twin.begin("restored"), *twin.issue("truck-15")])
    assert breaks(db) == [("altered-record", 1)]
    assert db.proven() == 2


def test_two_records_that_name_different_documents_of_one_revision(db: Database) -> None:
    """As a bay may sign whose journal was put back from a copy: the first is kept, the other too, and it is
    said."""
    bay = IssuingBay()
    first = bay.issue("truck-14")
    second = [bay.begin("restored"), *bay.issue("truck-14", verdict="replace")]
    db.filing().file([*first, *second])
    assert breaks(db) == [("altered-document", 1)]
    assert db.documents()["bay-2", "truck-14", 1] == first[0][1]
    assert [reason for reason, _ in db.refused()] == ["contradicted"]


def test_a_long_chain_that_comes_backwards_is_walked_when_its_beginning_comes(db: Database) -> None:
    bay = IssuingBay()
    records = [bay.begin(), *(bay.record(bay.document(f"truck-{n}")) for n in range(1100))]
    checkpoint = bay.checkpoint()
    db.filing().file(records[:0:-1])
    db.filing().file([checkpoint])
    assert db.rows("SELECT walked, told FROM fleet_chains") == [(0, 1101)]
    db.filing().file(records[:1])
    assert db.rows("SELECT walked, told FROM fleet_chains") == [(1101, 1101)]
    assert breaks(db) == []


@dataclass
class Asked:
    """A source that leads to every bay, or to none."""

    leads: bool = True

    def __post_init__(self) -> None:
        self.commands: list[tuple[str, str]] = []

    async def ask(self, topic: str, payload: bytes) -> bool:
        if self.leads:
            self.commands.append((topic, json_of(payload.decode())["since"]))
        return self.leads

    def batches(self) -> AsyncIterator[Batch]:
        raise AssertionError


def age(db: Database, hours: int) -> None:
    """As if all of it had come so long before."""
    with db.fleet.transaction() as connection:
        for table in ("fleet_chain", "fleet_checkpoints", "fleet_revisions"):
            connection.exec_driver_sql(f"UPDATE {table} SET stored = stored - interval '{hours} hours'")
        connection.exec_driver_sql(f"UPDATE fleet_asked SET asked = asked - interval '{hours} hours'")


async def test_a_bay_is_asked_once_for_what_is_missing(db: Database) -> None:
    lost_result, lost_record, lost_chain, whole = (IssuingBay(f"bay-{n}") for n in range(4))
    db.filing().file(lost_result.issue("truck-14")[1:])
    db.filing().file([lost_record.document("truck-14")])
    lost_chain.issue("truck-14")
    db.filing().file([lost_chain.checkpoint(), *whole.issue("truck-14")])
    source, other = Asked(), Asked()
    await Fetching(db.fleet, source).look()
    assert source.commands == []  # it may be on its way
    age(db, 1)
    await Fetching(db.fleet, source).look()
    await Fetching(db.fleet, other).look()
    root = "ringtrue/1/greywacke"
    assert source.commands == [
        (f"{root}/bay-0/command/resend", "2026-11-26T05:19:41.000Z"),
        (f"{root}/bay-1/command/resend", "2026-11-26T04:57:16.000Z"),
        (f"{root}/bay-2/command/resend", "2000-01-01T00:00:00.000Z"),
    ]
    assert other.commands == []
    age(db, 1)  # then again, and less often
    await Fetching(db.fleet, other).look()
    assert len(other.commands) == 3


async def test_where_no_way_leads_to_a_bay_it_is_said(
    db: Database, capsys: pytest.CaptureFixture[str]
) -> None:
    db.filing().file(IssuingBay().issue("truck-14")[1:])
    age(db, 1)
    await Fetching(db.fleet, Asked(leads=False)).look()
    assert "no way leads to it" in capsys.readouterr().out


def test_how_it_stands(db: Database) -> None:
    bay, late = IssuingBay(), IssuingBay("bay-3")
    db.filing().file(bay.issue("truck-14"))
    db.filing().file([late.issue("truck-15")[0], (bay.topics.chain, b"no record")])
    missing = bay.issue("truck-16")
    db.filing().file([missing[2]])
    found = standing(db.fleet)
    assert (found.results, found.inspections, found.bays, found.records) == (2, 2, 2, 2)
    assert (found.unproven, found.missing, found.refused) == (1, 0, {"malformed": 1})
    assert [(one["bay"], one["walked"], one["told"]) for one in found.behind] == [("bay-2", 2, 3)]
    assert found.latest is not None
    assert datetime.fromisoformat(found.latest).astimezone(UTC).year >= 2026
    assert "2026-11" in found.months


@pytest.mark.parametrize("back", [timedelta(hours=5), timedelta(days=-2)], ids=["back", "ahead"])
async def test_a_clock_that_is_set_under_the_writer_loses_nothing_and_is_told_once(
    back: timedelta, db: Database, capsys: pytest.CaptureFixture[str]
) -> None:
    bay, clocks = IssuingBay(), [NOW, NOW - back, NOW]
    filing = Filing(db.fleet, Bays(BaysSettings()), lambda: clocks[0])
    for n in range(4):
        filing.file(bay.issue(f"truck-{n}"))
        clocks = clocks[1:] or clocks
    assert (len(db.documents()), db.proven()) == (4, 4)
    assert {month.isoformat() for (month,) in db.rows("SELECT month FROM fleet_results")} == {"2026-11-01"}
    now = datetime.now(UTC)
    moments = [now, now - back, now - back, now]
    fetching = Fetching(db.fleet, Asked(), lambda: moments.pop(0))
    for _ in range(4):
        await fetching.look()
    assert capsys.readouterr().out.count("clock and the database's are not the same") == 1


async def test_a_bay_is_asked_though_the_databases_clock_was_set_back(db: Database) -> None:
    db.filing().file(IssuingBay().issue("truck-14")[1:])
    age(db, 1)
    source = Asked()
    await Fetching(db.fleet, source).look()
    with db.fleet.transaction() as connection:
        connection.exec_driver_sql("UPDATE fleet_asked SET asked = asked + interval '3 days'")
    await Fetching(db.fleet, source).look()
    assert len(source.commands) == 2
