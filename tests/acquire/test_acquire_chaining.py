"""The daemon and its chain, over a real broker: what it publishes, and that nothing of it stops the bay."""

from __future__ import annotations

import json
import shutil
from contextlib import closing
from pathlib import Path

import pytest

from acquire.journal.reader import JournalReader
from chain.key import read_or_make
from chain.signing import read_checkpoint, read_record
from config.bay import BayFiles, read_bay
from contract.chain import ChainBegun, ChainResult
from contract.topics import Topics
from tests.acquire.running_bay import Running
from tests.acquire.stand import Stand
from tests.chain.chained_bay import ChainedBay
from tests.chain.signers import signer
from tests.link.outside import Ear, ear, speak, until

pytestmark = pytest.mark.slow

TOPICS = Topics("greywacke", "bay-2")


@pytest.fixture
def files(tmp_path: Path) -> BayFiles:
    return read_bay(Stand().config(tmp_path, 'broker = "mosquitto"\nport = 0'), {})


def key_file(files: BayFiles) -> Path:
    return files.settings.journal.path.with_name("journal.key")


async def inspect(running: Running, heard: Ear, inspection: str) -> None:
    """Opened and abandoned: at least the second revision is a result."""
    asked = {"operator": "R. Example", "inspection": inspection}
    opening = {"id": inspection, "engine": "e", "damper": "d", "scope": "bench", **asked}
    await speak(running.address, TOPICS.command("open"), json.dumps(opening))
    await heard.until_payload(f"reply/{inspection}")
    leaving = {"id": f"{inspection}-gone", **asked}
    await speak(running.address, TOPICS.command("abandon"), json.dumps(leaving))
    await until_told(heard, f"{inspection}/result", '"abandoned"')


async def until_told(heard: Ear, ending: str, what: str) -> None:
    await heard.until(lambda said: any(topic.endswith(ending) and what in told for topic, _, told in said))


def begun(files: BayFiles) -> list[ChainBegun]:
    with closing(JournalReader(files.settings.journal.path)) as reader:
        records = [read_record(one.record) for one in reader.chain()]
    return [record for record in records if isinstance(record, ChainBegun)]


async def test_every_reader_is_a_witness(files: BayFiles) -> None:
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        await heard.until_payload("/checkpoint")
        await inspect(running, heard, "i-1")
        with closing(JournalReader(files.settings.journal.path)) as reader:
            records = [one.record.decode() for one in reader.chain()]
            latest = reader.checkpoint().decode()
        await heard.until_payload("/checkpoint", latest)
        heard_all = {*heard.payloads("bay-2/chain"), records[0]}  # the first may come before we listen
        assert heard_all == set(records)
        await until(lambda: len(running.chain) == len(records))
    assert [one.decode() for one in running.chain] == records
    assert read_checkpoint(latest.encode()).key == read_or_make(key_file(files)).public_key
    assert key_file(files).stat().st_mode & 0o777 == 0o600

    async with running.up(), ear(running.address) as heard:  # what the broker kept is the bay's own
        assert await heard.until_payload("/checkpoint") == latest
        await heard.until_payload("/status", '{"state":"online"}')
    assert [one.why for one in begun(files)] == ["first"]


async def test_a_copy_that_is_older_than_what_was_seen_is_told_and_the_bay_goes_on(files: BayFiles) -> None:
    running, journal = Running(files), files.settings.journal.path
    async with running.up(), ear(running.address) as heard:
        await heard.until_payload("/checkpoint")
    shutil.copy(journal, journal.with_name("copy.db"))
    async with running.up(), ear(running.address) as heard:
        await inspect(running, heard, "i-1")
        with closing(JournalReader(journal)) as reader:
            await heard.until_payload("/checkpoint", reader.checkpoint().decode())
    journal.with_name("copy.db").replace(journal)
    async with running.up(), ear(running.address) as heard:
        await until_told(heard, "/status", "older copy")
        await inspect(running, heard, "i-2")
    assert [one.why for one in begun(files)] == ["first", "contradicted"]
    seen = begun(files)[1].seen
    assert seen is not None
    assert seen.size > 1


@pytest.mark.parametrize("spoilt", [b"no key", b""])
async def test_a_key_that_cannot_be_used_is_told_and_the_bay_goes_on(spoilt: bytes, files: BayFiles) -> None:
    key_file(files).parent.mkdir(exist_ok=True)
    key_file(files).write_bytes(spoilt)
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        await until_told(heard, "/status", "no Ed25519 key")
        await inspect(running, heard, "i-1")
    assert begun(files) == []
    key_file(files).unlink()
    async with running.up(), ear(running.address) as heard:
        await heard.until_payload("/status", '{"state":"online"}')
        await heard.until_payload("/checkpoint")
    with closing(JournalReader(files.settings.journal.path)) as reader:
        records = [read_record(one.record) for one in reader.chain()]
        results = reader.results()
    assert [(one.inspection, one.revision, one.later) for one in records if isinstance(one, ChainResult)] == [
        (result.inspection, result.revision, True) for result in results
    ]  # fmt: skip


async def test_a_second_daemon_of_the_same_name_is_told(files: BayFiles, tmp_path: Path) -> None:
    other = ChainedBay(tmp_path / "other", signing=signer("other"))
    other.start()
    running = Running(files)
    async with running.up(), ear(running.address) as heard:
        await heard.until_payload("/checkpoint")
        await speak(running.own_address, TOPICS.checkpoint, other.checkpoint(), "-r")
        await until_told(heard, "/status", "does a second daemon use this name")
        await inspect(running, heard, "i-1")
    assert [one.why for one in begun(files)] == ["first"]
