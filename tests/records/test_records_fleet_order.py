"""Whatever way the messages of several bays come, and to whichever of two writers: the same tables."""

from __future__ import annotations

import random
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from records.fleet.filing import Filing
from tests.parts.issuing import IssuingBay, Message
from tests.parts.postgres import Postgres
from tests.records.filed import Database, database

pytestmark = pytest.mark.slow

ORDERS = 12
ORDERS_HEAVY = 300


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


def story() -> tuple[list[Message], dict[str, list[str]]]:
    """Three bays: one whose journal was put back from a copy, one of which somebody altered and forged
    results, and one that is sound; and the keys of all three, as who comes first would else decide."""
    bays = [IssuingBay(f"bay-{number}") for number in (1, 2, 3)]
    messages: list[Message] = []
    for bay in bays:
        for inspection in ("truck-14", "truck-15"):
            for revision in (1, 2):
                messages += bay.issue(inspection, revision)
    restored, meddled, _ = bays
    messages += [restored.begin("restored"), *restored.issue("truck-16"), *restored.issue("truck-17")]
    messages += [
        meddled.document("truck-14", 2, verdict="replace"),
        meddled.document("truck-15", 1, verdict="replace"),
        *IssuingBay("bay-2", key="somebody else").issue("truck-15", 2, verdict="replace"),
        (meddled.topics.inspection_result("truck-18"), b'{"schema":"ringtrue/result/2"}'),
        (meddled.topics.inspection_result("truck-18"), b"no json"),
    ]
    return messages, {f"greywacke/{bay.topics.bay}": [bay.signer.public_key] for bay in bays}


def file_in_batches(filing: Filing, messages: list[Message], chance: random.Random) -> None:
    while messages:
        size = chance.choice((1, 2, 5, 20))
        filing.file(messages[:size])
        del messages[:size]


def test_any_order_and_doubling_over_two_writers_gives_the_same(
    postgres: Postgres, request: pytest.FixtureRequest
) -> None:
    messages, keys = story()
    with database(postgres) as in_order:
        in_order.filing(keys=keys).file(messages)
        expected = in_order.all()
        assert len(in_order.documents()) == in_order.proven() == 3 * 4 + 2
        assert expected["breaks"] == []
    for seed in range(ORDERS_HEAVY if request.config.getoption("--heavy") else ORDERS):
        chance = random.Random(seed)
        doubled = [*messages, *chance.choices(messages, k=len(messages) // 2)]
        chance.shuffle(doubled)
        split = [[one for one in doubled if chance.random() < 0.5], doubled]  # some to both
        with database(postgres) as db, ThreadPoolExecutor(2) as pool:
            writers = [Database(db.url) for _ in split]
            work = [
                pool.submit(file_in_batches, writer.filing(keys=keys), list(part), random.Random(seed))
                for writer, part in zip(writers, split, strict=True)
            ]
            for one in work:
                one.result()
            for writer in writers:
                writer.fleet.close()
            found = db.all()
            for name, rows in expected.items():
                assert found[name] == rows, f"{name}, seed {seed}"


def broken() -> tuple[list[Message], dict[str, list[str]], set[str]]:
    """A bay and a copy of it that went on by itself, one whose latest checkpoint denies its records, one that
    goes on from other records than its own, and one that is sound; and which of them are broken."""
    bays = {name: IssuingBay(name) for name in ("copied", "denied", "elsewhere", "sound")}
    messages = [one for bay in bays.values() for n in range(2) for one in bay.issue(f"truck-{n}")]
    copy = deepcopy(bays["copied"])
    messages += [*bays["copied"].issue("truck-7"), *copy.issue("truck-8"), *copy.issue("truck-9")]
    other = deepcopy(bays["denied"])
    other.issue("truck-7")
    messages += [*bays["denied"].issue("truck-8"), other.checkpoint()]
    other = deepcopy(bays["elsewhere"])
    other.issue("truck-7")
    messages += [*bays["elsewhere"].issue("truck-8"), other.begin("restored")]
    messages += bays["sound"].issue("truck-7")
    keys = {f"greywacke/{name}": [bay.signer.public_key] for name, bay in bays.items()}
    return messages, keys, set(bays) - {"sound"}


@settings(max_examples=4)
@given(st.randoms(use_true_random=False))
def test_a_break_is_named_whichever_writer_has_which_message_first_and_none_that_is_none(
    postgres: Postgres, chance: random.Random
) -> None:
    messages, keys, expected = broken()
    chance.shuffle(messages)
    with database(postgres) as db:
        writers = [db.filing(keys=keys), db.filing(keys=keys)]
        while messages:
            size = chance.choice((1, 3, 20))
            chance.choice(writers).file(messages[:size])
            del messages[:size]
        assert {bay for (bay,) in db.rows("SELECT bay FROM fleet_breaks")} == expected
        assert {bay for (bay,) in db.rows("SELECT bay FROM fleet_chains WHERE walked < told")} <= expected


def test_two_writers_make_a_months_partitions_at_once(db: Database) -> None:
    bay = IssuingBay()
    documents = [
        bay.document(f"truck-{n}", opened=f"20{10 + n}-05-02T06:00:00Z", closed=None) for n in range(8)
    ]
    writers = [Database(db.url) for _ in range(4)]
    with ThreadPoolExecutor(4) as pool:
        filed = list(pool.map(lambda one: one.filing().file(documents), writers))
    for writer in writers:
        with closing(writer.fleet):
            pass
    assert sum(one.results for one in filed) == len(db.documents()) == 8


def test_months_that_were_dropped_keep_their_revisions(db: Database) -> None:
    """The command that docs/fleet/writer.md shows; a late copy is not taken for a new result."""
    messages = IssuingBay().issue("truck-14")
    filing = db.filing()
    filing.file(messages)
    with db.fleet.transaction() as connection:
        for table in ("fleet_results",):
            connection.exec_driver_sql(f"ALTER TABLE {table} DETACH PARTITION {table}_2026_11")
            connection.exec_driver_sql(f"DROP TABLE {table}_2026_11")
    assert filing.file(messages).results == 0
    assert db.documents() == {}
    other = IssuingBay("bay-3").document("truck-19")
    assert filing.file([other]).results == 1  # the month is made again
