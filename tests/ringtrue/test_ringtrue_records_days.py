"""`ringtrue records` for who kept a checkpoint, and after the days on which a chain cannot go on."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from chain.merkle import grown_from
from chain.signing import digest
from contract.topics import Topics
from ringtrue.cli import main
from tests.chain.chained_bay import ChainedBay
from tests.chain.signers import signer
from tests.ringtrue.verified_bay import broken, change, copy_of, delivered, verify


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> ChainedBay:
    return delivered(tmp_path_factory.mktemp("whole"))


@pytest.fixture
def bay(whole: ChainedBay, tmp_path: Path) -> ChainedBay:
    return copy_of(whole, tmp_path / "bay")


@pytest.mark.slow
def test_what_the_owner_of_the_key_rewrote_is_found_by_a_checkpoint_that_somebody_kept(
    bay: ChainedBay, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "kept.txt"
    kept.write_bytes(bay.checkpoint() + b"\n")
    forger = ChainedBay(tmp_path / "forger")
    forger.start()
    chain: list[bytes] = []
    for said in bay.chain():  # the same chain, one document another, all signed anew by the true key
        fields = {key: value for key, value in said.items() if key not in ("signature", "key")}
        if said["index"] == 3:
            fields["time"] = "2026-03-01T06:00:00.000Z"
        if chain:
            fields["previous"] = digest(chain[-1])
        chain.append(forger.signing.signed(fields))
    checkpoint = {key: value for key, value in json.loads(bay.checkpoint()).items() if key != "signature"}
    checkpoint["root"] = grown_from(chain).root().hex()
    change(bay.journal, "UPDATE checkpoint SET message = ?", forger.signing.signed(checkpoint))
    for place, record in enumerate(chain):
        change(bay.journal, "UPDATE chain SET record = ? WHERE n = ?", record, place + 1)
        change(
            bay.records, "UPDATE chain SET record = ?, sha256 = ? WHERE place = ?", record,
            digest(record), place,
        )  # fmt: skip
    assert verify(bay)[0] == 0  # nobody can tell from the inside
    found = broken(bay, "--checkpoint", str(kept))
    assert found["what"] == "checkpoint"
    assert "one of the first 7 records is another" in found["why"]
    assert main(["records", "prove", "--config", str(bay.config), "--checkpoint", str(kept)]) == 1
    assert "does not hold" in capsys.readouterr().err


@pytest.mark.slow
def test_a_tail_cut_off_everywhere_is_found_by_a_checkpoint(bay: ChainedBay, tmp_path: Path) -> None:
    kept = tmp_path / "kept.txt"
    kept.write_bytes(bay.checkpoint())
    for file, column in ((bay.journal, "n - 1"), (bay.records, "place")):
        change(file, f"DELETE FROM chain WHERE {column} >= 5")
    for file, table in ((bay.journal, "result"), (bay.records, "results")):
        change(file, f"DELETE FROM {table} WHERE inspection = 'i-3' AND revision > 1")
    found = broken(bay)  # by the journal's own
    assert (found["what"], found["index"]) == ("missing-record", 5)
    change(bay.journal, "DELETE FROM checkpoint")
    assert broken(bay)["what"] == "checkpoint"
    bay.start()
    found = broken(bay, "--checkpoint", str(kept))
    assert (found["what"], found["index"]) == ("missing-record", 5)


def test_a_proof_holds_without_anything_of_the_bays(
    bay: ChainedBay, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept, proof = tmp_path / "kept.txt", tmp_path / "proof.json"
    kept.write_bytes(b"\n".join(bay.sent(bay.topics.checkpoint)[:3]) + b"\n")
    proving = ["records", "prove", "--config", str(bay.config), "--checkpoint", str(kept)]
    assert main(proving) == 0
    assert main([*proving, "-o", str(proof)]) == 0
    assert proof.read_text() == capsys.readouterr().out
    shutil.rmtree(bay.folder)
    checking = ["records", "verify", "--proof", str(proof), "--checkpoint"]
    assert main([*checking, str(kept)]) == 0
    assert "the 7 records of chain" in capsys.readouterr().out
    spoilt = json.loads(proof.read_text())
    spoilt["proof"][0] = "00" * 32
    proof.write_text(json.dumps(spoilt))
    assert main([*checking, str(kept)]) == 1
    assert "the proof does not hold for the checkpoint of 3 records" in capsys.readouterr().err
    for other in ("{}", "no JSON"):
        proof.write_text(other)
        capsys.readouterr()
        assert main([*checking, str(kept)]) == 1
        assert "not what `ringtrue records prove` writes" in capsys.readouterr().err
    assert main(["records", "verify", "--proof", str(proof)]) == 2


@pytest.mark.slow
def test_a_lost_key_is_told_apart_only_by_who_knows(
    bay: ChainedBay, capsys: pytest.CaptureFixture[str]
) -> None:
    bay.signing = signer("a new key")
    bay.issue(("i-4", 1))
    bay.deliver()
    found = broken(bay)
    begun = bay.chain()[-2]
    assert (found["what"], found["chain"], found["index"]) == ("other-key", begun["chain"], 0)
    assert f"--since {begun['chain']} begins there" in found["why"]
    code, said = verify(bay, "--since", begun["chain"])
    assert (code, said["bays"]["greywacke/bay-2"]["records"]) == (0, 2)
    capsys.readouterr()
    assert main(["records", "verify", "--config", str(bay.config), "--since", "ffff"]) == 3
    assert "no such chain; there are" in capsys.readouterr().err


def test_another_name_is_followed(bay: ChainedBay, capsys: pytest.CaptureFixture[str]) -> None:
    bay.topics = Topics("greywacke", "bay-3")
    bay.start()
    bay.deliver()
    bay.config.write_text(bay.config.read_text().replace("bay-2", "bay-3"))
    assert main(["records", "verify", "--config", str(bay.config)]) == 0
    assert "site or bay were called otherwise" in capsys.readouterr().out
    assert main(["records", "verify", "--records", bay.url]) == 0
    assert capsys.readouterr().out.startswith("greywacke/bay-2: sound: 8 records, 6 results\n")


def test_a_clock_set_back_is_noted(bay: ChainedBay) -> None:
    bay.clock.now_ns -= 3_600_000_000_000
    bay.issue(("i-4", 1))
    code, said = verify(bay)
    assert code == 0
    assert any("its clock was set back" in note for note in said["bays"]["greywacke/bay-2"]["notes"])


def test_what_was_put_into_the_journal_before_a_start_is_noted(bay: ChainedBay) -> None:
    bay.issue(("i-0", 1), sealed=False)
    assert broken(bay)["what"] == "document-without-record"
    bay.start()
    code, said = verify(bay)
    assert code == 0
    (note,) = said["bays"]["greywacke/bay-2"]["notes"]
    assert "somebody put them into the journal" in note


@pytest.mark.slow
def test_a_bay_that_was_put_back_begins_its_chain_anew_and_says_so(
    bay: ChainedBay, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = bay.folder / "var/journal.key"
    key.write_text("only looked at by name")
    archive, kept, newer = tmp_path / "copy.tar", tmp_path / "kept.txt", tmp_path / "newer.db"
    assert main(["backup", "--config", str(bay.config), "-o", str(archive)]) == 0
    assert f"the key {key} stays where it is" in capsys.readouterr().out
    bay.issue(("i-4", 1), ("i-5", 1))
    bay.deliver()
    kept.write_bytes(bay.checkpoint())
    shutil.copy(bay.records, newer)
    assert main(["restore", str(archive), "--config", str(bay.config), "--replace"]) == 0
    assert key.read_text() == "only looked at by name"
    bay.issue(("i-6", 1))
    bay.deliver()
    code, said = verify(bay)
    assert code == 0
    assert any("put back from a copy" in note for note in said["bays"]["greywacke/bay-2"]["notes"])
    found = broken(bay, "--checkpoint", str(kept))  # what was issued after the copy is missed
    assert (found["what"], found["index"]) == ("missing-record", 7)
    chain = bay.chain()[-1]["chain"]
    assert verify(bay, "--checkpoint", str(kept), "--since", chain)[0] == 0

    # Records on a server were not put back, and hold what the journal has lost.
    with closing(sqlite3.connect(bay.records)) as db:
        rows = db.execute("SELECT * FROM chain WHERE chain = ?", (chain,)).fetchall()
        results = db.execute("SELECT * FROM results WHERE inspection = 'i-6'").fetchall()
    for suffix in ("", "-wal", "-shm"):
        Path(f"{bay.records}{suffix}").unlink(missing_ok=True)
    shutil.copy(newer, bay.records)
    with closing(sqlite3.connect(bay.records)) as db, db:
        db.executemany(f"INSERT INTO chain VALUES ({','.join('?' * len(rows[0]))})", rows)
        db.executemany(f"INSERT INTO results VALUES ({','.join('?' * len(results[0]))})", results)
    assert verify(bay, "--checkpoint", str(kept))[0] == 0
