"""Each result has its record in the chain, made in the transaction that keeps it; on bad days too."""

from __future__ import annotations

import asyncio
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from acquire.journal.file import Batch, write_batch
from acquire.journal.reader import JournalReader
from acquire.journal.sealer import Sealer
from chain.merkle import grown_from
from chain.signing import digest, read_checkpoint, read_record
from contract.chain import ChainResult
from contract.topics import Topics
from tests.chain.chained_bay import ChainedBay, document
from tests.chain.signers import signer


@pytest.fixture
def bay(tmp_path: Path) -> ChainedBay:
    bay = ChainedBay(tmp_path)
    bay.start()
    return bay


def test_a_first_start_begins_the_chain_and_tells_the_key(bay: ChainedBay) -> None:
    (begun,) = bay.chain()
    assert (begun["kind"], begun["why"], begun["index"], begun["previous"]) == ("begun", "first", 0, "")
    checkpoint = read_checkpoint(bay.checkpoint())
    assert (checkpoint.size, checkpoint.key) == (1, signer("bay-2").public_key)
    bay.start()
    assert len(bay.chain()) == 1


def test_each_result_is_chained_in_order_and_its_checkpoint_is_over_all(bay: ChainedBay) -> None:
    bay.issue(("i-1", 1), ("i-1", 2), ("i-2", 1))
    with closing(JournalReader(bay.journal)) as reader:
        records = [one.record for one in reader.chain()]
    said = [json.loads(record) for record in records]
    assert [(one.get("inspection"), one.get("revision")) for one in said] == [
        (None, None), ("i-1", 1), ("i-1", 2), ("i-2", 1),
    ]  # fmt: skip
    assert [one["index"] for one in said] == [0, 1, 2, 3]
    assert [one["previous"] for one in said] == ["", *(digest(record) for record in records[:-1])]
    assert said[1]["document_sha256"] == digest(document("i-1"))
    assert not any(one["later"] for one in said[1:])
    checkpoint = read_checkpoint(bay.checkpoint())
    assert (checkpoint.size, checkpoint.root) == (4, grown_from(records).root().hex())


def test_it_goes_out_beside_the_result_once(bay: ChainedBay) -> None:
    bay.issue(("i-1", 1))
    bay.issue(("i-1", 1))  # graded once more after a crash
    with closing(JournalReader(bay.journal)) as reader:
        records = [one.record for one in reader.chain()]
        to_records = [(row.topic, row.payload) for row in reader.waiting("records", 100)]
    assert bay.sent(bay.topics.chain) == records
    assert to_records == [("chain", records[0]), ("", document("i-1")), ("chain", records[1])]
    assert bay.sent(bay.topics.checkpoint)[-1] == bay.checkpoint()


def test_results_of_before_are_taken_up_and_marked(tmp_path: Path) -> None:
    bay = ChainedBay(tmp_path)
    bay.issue(("i-1", 1), ("i-1", 2), sealed=False)
    bay.start()
    bay.issue(("i-2", 1))
    assert [(one["inspection"], one["later"]) for one in bay.chain()[1:]] == [
        ("i-1", True), ("i-1", True), ("i-2", False),
    ]  # fmt: skip


def test_without_a_start_the_first_result_begins_the_chain(tmp_path: Path) -> None:
    bay = ChainedBay(tmp_path)
    bay.issue(("i-1", 1))
    assert [one["kind"] for one in bay.chain()] == ["begun", "result"]


def test_a_commit_that_fails_leaves_no_hole(bay: ChainedBay, monkeypatch: pytest.MonkeyPatch) -> None:
    failing = [3]

    def write(db: sqlite3.Connection, batch: Batch, sealer: Sealer | None) -> None:
        if failing[0] and batch.results:
            failing[0] -= 1
            db.execute("PRAGMA max_page_count = 1")  # a disk that fills up in the middle
        write_batch(db, batch, sealer)

    monkeypatch.setattr("acquire.journal.writer.write_batch", write)
    big = document("i-1", note="x" * 50_000)
    with bay.opened(retry_s=0.01) as journal:
        journal.put_result("i-1", 1, big, "2026-03-02T06:00:00.000Z")
        asyncio.run(journal.flushed())
        assert journal.statistics().failures == 3
    assert [one["index"] for one in bay.chain()] == [0, 1]
    assert bay.chain()[1]["previous"] == digest_of(bay, 0)


def test_another_key_begins_another_chain_after_the_old_one(bay: ChainedBay) -> None:
    bay.issue(("i-1", 1))
    old = read_checkpoint(bay.checkpoint())
    bay.signing = signer("another")
    bay.issue(("i-2", 1))
    begun, result = bay.chain()[2:]
    assert (begun["why"], begun["after"]) == (
        "other-key", {"chain": old.chain, "size": old.size, "root": old.root},
    )  # fmt: skip
    assert (result["index"], result["chain"]) == (1, begun["chain"]) != (1, old.chain)


def test_another_name_begins_another_chain(bay: ChainedBay) -> None:
    bay.topics = Topics("greywacke", "bay-3")
    bay.issue(("i-1", 1))
    assert [(one["why"], one["bay"]) for one in bay.chain() if one["kind"] == "begun"] == [
        ("first", "bay-2"), ("renamed", "bay-3"),
    ]  # fmt: skip


def test_an_old_copy_is_noticed_by_what_others_saw_and_said_once(bay: ChainedBay) -> None:
    bay.issue(("i-1", 1))
    shutil.copy(bay.journal, bay.folder / "copy.db")
    bay.issue(("i-2", 1), ("i-3", 1))
    seen = bay.checkpoint()
    bay.journal.unlink()
    shutil.copy(bay.folder / "copy.db", bay.journal)
    for _ in range(2):
        bay.start(seen)
    begun = [one for one in bay.chain() if one["kind"] == "begun"]
    assert [one["why"] for one in begun] == ["first", "contradicted"]
    assert begun[1]["seen"] == json.loads(seen)
    (sentence,) = bay.said
    assert "a checkpoint of 4 records" in sentence
    assert "this journal holds 2 of it: was the journal put back from an older copy" in sentence


def test_records_that_are_others_than_were_seen_are_noticed(bay: ChainedBay) -> None:
    shutil.copy(bay.journal, bay.folder / "copy.db")
    bay.issue(("i-1", 1))
    seen = bay.checkpoint()
    bay.journal.unlink()
    shutil.copy(bay.folder / "copy.db", bay.journal)
    bay.issue(("i-2", 1))
    bay.start(seen)
    assert "the records in this journal are others" in bay.said[0]


def test_a_chain_that_this_journal_never_had_is_noticed(bay: ChainedBay, tmp_path: Path) -> None:
    other = ChainedBay(tmp_path / "other", signing=signer("other"))
    other.start()
    bay.start(other.checkpoint())
    assert "this journal knows no such chain" in bay.said[0]
    assert bay.chain()[-1]["seen"]["key"] == signer("other").public_key


def test_what_is_no_evidence_is_passed_over(bay: ChainedBay, tmp_path: Path) -> None:
    bay.issue(("i-1", 1))
    chain = json.loads(bay.checkpoint())["chain"]
    neighbour = ChainedBay(tmp_path / "other", topics=Topics("greywacke", "bay-9"))
    neighbour.start()
    forged = {key: value for key, value in json.loads(bay.checkpoint()).items() if key != "signature"}
    other_key = signer("somebody").signed({**forged, "size": 99})
    bay.start(b"no checkpoint", bay.checkpoint()[:-1], neighbour.checkpoint(), other_key, bay.checkpoint())
    assert {one["chain"] for one in bay.chain()} == {chain}
    assert bay.said == []


def test_a_journal_whose_chain_was_altered_goes_on_in_another(bay: ChainedBay) -> None:
    bay.issue(("i-1", 1), ("i-2", 1))
    with closing(sqlite3.connect(bay.journal)) as db, db:
        db.execute("UPDATE chain SET record = CAST('{}' AS BLOB) WHERE n = 1")
    bay.issue(("i-3", 1))
    with closing(JournalReader(bay.journal)) as reader:
        last = read_record(reader.chain()[-1].record)
    assert (last.index, isinstance(last, ChainResult) and last.inspection) == (1, "i-3")
    assert "the records in this journal are others" in bay.said[0]


def digest_of(bay: ChainedBay, place: int) -> str:
    with closing(JournalReader(bay.journal)) as reader:
        return digest(reader.chain()[place].record)


def test_who_is_sent_everything_again_gets_the_beginning_of_the_chain_too(bay: ChainedBay) -> None:
    """The record that begins a chain is of no result; without it a reader could verify none that follow."""
    bay.issue(("GQ-1", 1), ("GQ-2", 1))
    sent = bay.sent(bay.topics.chain)
    inspection = bay.topics.inspection_result("\0").split("\0")
    with bay.opened() as journal:
        journal.resend("2000-01-01T00:00:00.000Z", *inspection, chain=bay.topics.chain, reply=("r1", b"{}"))
        asyncio.run(journal.flushed())
    assert bay.sent(bay.topics.chain) == sent * 2
    assert "begun" in sent[0].decode()
