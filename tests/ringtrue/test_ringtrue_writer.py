"""The record writer between a real mosquitto and a real PostgreSQL, on their bad days."""

from __future__ import annotations

import asyncio
import signal
import sys
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import aclosing, asynccontextmanager, closing, contextmanager
from pathlib import Path

import psycopg
import pytest

from config.bay import read_bay
from config.writer import WriterSettings, read_writer
from link.address import BrokerAddress
from link.bursts import connect
from records.fleet.arriving import ENOUGH
from records.fleet.filing import Filing
from records.fleet.reading import Read
from ringtrue.recording import fleet_of, source_of, writer_of
from tests.acquire.running_bay import Running
from tests.acquire.stand import Stand
from tests.acquire.test_acquire_chaining import inspect
from tests.link.outside import Cable, Mosquitto, ear, mosquitto, until
from tests.parts.issuing import IssuingBay, Message
from tests.parts.postgres import Postgres, server
from tests.records.filed import Database, database

pytestmark = pytest.mark.slow

ALL_THERE = """
    SELECT (SELECT count(document_sha256) FROM fleet_chain) AS records,
        (SELECT count(*) FROM fleet_revisions) AS results
"""
KEPT = ("allow_anonymous true", "max_queued_messages 0")


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


@pytest.fixture
async def broker(tmp_path: Path) -> AsyncIterator[Mosquitto]:
    async with mosquitto(tmp_path, KEPT) as running:
        yield running


def config(folder: Path, address: BrokerAddress, db: Database, client: str = "writer-1") -> Path:
    url = db.url.replace(":secret@", "@")
    file = folder / f"{client}.toml"
    file.write_text(
        f'schema = "ringtrue/writer/1"\n[source]\nkind = "mqtt"\nurl = "{address.url}"\nclient = "{client}"\n'
        f'[records]\nurl = "{url}"\npassword_file = "database.password"\n'
    )
    (folder / "database.password").write_text("secret\n")
    return file


def settings(folder: Path, address: BrokerAddress, db: Database, client: str = "writer-1") -> WriterSettings:
    return read_writer(config(folder, address, db, client), {})


@asynccontextmanager
async def writing(said: WriterSettings) -> AsyncIterator[None]:
    """A writer in this process, subscribed; left as SIGTERM does."""
    fleet = fleet_of(said.records)
    writer = writer_of(said, fleet)
    reader = writer._source
    work = asyncio.ensure_future(writer.run())
    try:
        await until(lambda: getattr(reader, "_connection", None) is not None or work.done())
        yield
    finally:
        writer.leave()
        await work
        fleet.close()


@asynccontextmanager
async def process(file: Path) -> AsyncIterator[asyncio.subprocess.Process]:
    """A writer in a process of its own, subscribed; killed at the end."""
    log = file.with_suffix(".log")
    with log.open("wb") as stream:
        running = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "ringtrue", "writer", "--config", str(file), stderr=stream
        )
    try:
        await until(lambda: b" event=connected " in log.read_bytes() or running.returncode is not None)
        yield running
    finally:
        if running.returncode is None:
            running.kill()
        await running.wait()


async def publish(address: BrokerAddress, messages: Sequence[Message]) -> None:
    async with connect(address) as connection:
        for topic, payload in messages:
            await connection.publish(topic, payload, qos=1, retain=topic.endswith("checkpoint"))


async def until_stored(db: Database, results: int) -> None:
    await until_there(db, f"SELECT FROM fleet_revisions OFFSET {results - 1}")


async def until_there(db: Database, query: str) -> None:
    """Until a query finds something: no database tells."""
    async with asyncio.timeout(60):
        while not await asyncio.to_thread(db.rows, query):  # noqa: ASYNC110 no event tells it
            await asyncio.sleep(0.05)


def sound(db: Database, bays: Sequence[IssuingBay], each: int) -> None:
    """Every result once, and proven; nothing refused, nothing broken."""
    assert len(db.documents()) == db.proven() == len(bays) * each
    assert db.rows("SELECT count(*) FROM fleet_results") == [(len(bays) * each,)]
    assert db.refused() == []
    assert db.rows("SELECT * FROM fleet_breaks") == []


@contextmanager
def locked(db: Database) -> Iterator[None]:
    """Nobody can commit a result meanwhile."""
    with psycopg.connect(db.url.replace("+psycopg", "")) as holder:
        holder.execute("LOCK TABLE fleet_results IN ACCESS EXCLUSIVE MODE")
        yield


async def until_waits(db: Database) -> None:
    """Until a writer waits for that lock."""
    await until_there(db, "SELECT FROM pg_locks WHERE relation = 'fleet_results'::regclass AND NOT granted")


async def test_two_writers_share_what_comes_and_one_may_be_away(
    db: Database, broker: Mosquitto, tmp_path: Path
) -> None:
    bays = [IssuingBay(f"bay-{number}") for number in range(6)]
    first, second = (settings(tmp_path, broker.address, db, name) for name in ("writer-1", "writer-2"))
    async with writing(first):
        async with writing(second):
            await publish(broker.address, [one for bay in bays for one in bay.issue("truck-14")])
            await until_stored(db, 6)  # then one is away, and what it is handed waits
        await publish(broker.address, [one for bay in bays for one in bay.issue("truck-15")])
    async with writing(first), writing(second):
        await until_stored(db, 12)
        await until(lambda: db.proven() == 12)
    sound(db, bays, 2)


async def test_killed_between_commit_and_acknowledgement_nothing_is_lost_nor_twice(
    db: Database, broker: Mosquitto, tmp_path: Path
) -> None:
    bay = IssuingBay()
    async with Cable(broker.address) as cable:
        file = config(tmp_path, cable.address, db)
        async with process(file) as running:
            with locked(db):
                await publish(broker.address, bay.issue("truck-14"))
                await until_waits(db)
                await cable.pull()  # what is acknowledged from now on reaches nobody
            await until_stored(db, 1)
            running.send_signal(signal.SIGKILL)
            assert await running.wait() == -signal.SIGKILL
        await cable.plug_in()
        await publish(broker.address, bay.issue("truck-15"))
        async with process(file) as running:
            await until_stored(db, 2)
            running.terminate()
            assert await running.wait() == 0
    assert b"results=1" in file.with_suffix(".log").read_bytes()  # of two that came
    sound(db, [bay], 2)


async def test_killed_again_and_again_while_bays_publish(
    db: Database, broker: Mosquitto, tmp_path: Path
) -> None:
    bays = [IssuingBay(f"bay-{number}") for number in range(5)]
    messages = [one for n in range(12) for bay in bays for one in bay.issue(f"truck-{n}")]
    files = [config(tmp_path, broker.address, db, name) for name in ("writer-1", "writer-2")]
    async with process(files[0]), process(files[1]):
        pass  # both have a session from now on
    for third in range(3):
        async with process(files[third % 2]) as running:
            await publish(broker.address, messages[third::3])
            running.kill()
    async with process(files[0]), process(files[1]):
        await until_stored(db, 60)
        await until(lambda: db.proven() == 60)
    sound(db, bays, 12)


async def test_one_bays_messages_are_dealt_to_two_writers_in_turn(
    db: Database, broker: Mosquitto, tmp_path: Path
) -> None:
    """Neither has two records that follow each other, until one is killed."""
    bay, results = IssuingBay(), 210
    messages = [one for n in range(results) for one in bay.issue(f"truck-{n}")]
    files = [config(tmp_path, broker.address, db, name) for name in ("writer-1", "writer-2")]
    async with process(files[0]) as killed, process(files[1]) as other:
        publishing = asyncio.ensure_future(publish(broker.address, messages))
        await until_stored(db, results // 3)
        killed.kill()
        await publishing
        async with process(files[0]) as again:
            await until_stored(db, results)
            await until(lambda: db.proven() == results)
            await until_there(db, "SELECT FROM fleet_chains WHERE walked = told")
            for one in (again, other):
                one.terminate()
                assert await one.wait() == 0
    assert all(b" results=" in file.with_suffix(".log").read_bytes() for file in files)
    sound(db, [bay], results)
    assert db.rows("SELECT walked, told FROM fleet_chains") == [(results + 1, results + 1)]


async def test_a_database_that_is_restarted_is_waited_for(tmp_path: Path) -> None:
    bay = IssuingBay()
    with server() as postgres, database(postgres) as db:
        async with mosquitto(tmp_path, KEPT) as broker, writing(settings(tmp_path, broker.address, db)):
            await publish(broker.address, bay.issue("truck-14"))
            await until_stored(db, 1)
            await asyncio.to_thread(postgres.stop)
            db.fleet.close()
            await publish(broker.address, bay.issue("truck-15"))
            await asyncio.to_thread(postgres.start)
            await until_stored(db, 2)
        sound(db, [bay], 2)


@pytest.mark.parametrize("trouble", ["read-only", "full"])
async def test_a_database_that_takes_nothing_is_waited_for(
    trouble: str, db: Database, broker: Mosquitto, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = db.url.rpartition("/")[2]
    on, off = {
        "read-only": (
            f"ALTER DATABASE {name} SET default_transaction_read_only = on",
            f"ALTER DATABASE {name} RESET default_transaction_read_only",
        ),
        # As the server says it where the disk is full (SQLSTATE 53100).
        "full": (
            "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
            " RAISE EXCEPTION 'could not extend file' USING ERRCODE = 'disk_full'; END $$;"
            " CREATE TRIGGER full_disk BEFORE INSERT ON fleet_revisions FOR EACH ROW"
            " EXECUTE FUNCTION full_disk()",
            "DROP TRIGGER full_disk ON fleet_revisions",
        ),
    }[trouble]
    bay = IssuingBay()
    with psycopg.connect(db.url.replace("+psycopg", ""), autocommit=True) as owner:
        owner.execute(on)
        async with writing(settings(tmp_path, broker.address, db)):
            await publish(broker.address, bay.issue("truck-14"))
            said = ""
            async with asyncio.timeout(30):
                while "nothing is acknowledged until" not in said:
                    said += capsys.readouterr().out
                    await asyncio.sleep(0.02)
            assert db.documents() == {}
            owner.execute("SET default_transaction_read_only = off")
            owner.execute(off)
            db.fleet.close()
            await until_stored(db, 1)
    sound(db, [bay], 1)


async def test_a_writer_that_comes_late_learns_of_what_it_missed_and_asks_for_it(
    db: Database, broker: Mosquitto, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was published before the first writer came is with nobody but the bay: its retained checkpoint
    tells how much that is."""
    monkeypatch.setattr("records.fleet.fetching.PATIENCE_S", 0.0)
    monkeypatch.setattr("records.fleet.writing.LOOK_EVERY_S", 0.2)
    bay = IssuingBay()
    missed = [*bay.issue("truck-14"), *bay.issue("truck-15")]
    await publish(broker.address, missed)
    said = settings(tmp_path, broker.address, db)
    async with ear(broker.address, bay.topics.commands) as heard, writing(said):
        asked = await heard.until_payload("command/resend")
        assert '"since":"2000-01-01T00:00:00.000Z"' in asked
        await publish(broker.address, missed)
        await until_stored(db, 2)
    sound(db, [bay], 2)


async def test_a_wrong_password_is_told_before_there_is_something_to_file(
    db: Database, broker: Mosquitto, tmp_path: Path
) -> None:
    file = config(tmp_path, broker.address, db)
    (tmp_path / "database.password").write_text("mistyped\n")
    async with process(file):
        said = file.with_suffix(".log").read_text()
    assert "nothing is filed until the database takes it" in said
    assert "password authentication failed" in said
    assert "mistyped" not in said


async def test_two_of_one_name_are_told(
    db: Database, broker: Mosquitto, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = settings(tmp_path, broker.address, db)
    async with writing(said), writing(said):
        out = ""
        async with asyncio.timeout(30):
            while "does another one use this client's name" not in out:
                out += capsys.readouterr().out
                await asyncio.sleep(0.02)


def test_no_password_is_told(db: Database, tmp_path: Path) -> None:
    """Not in an address, not in a message, not in the log."""
    said = settings(tmp_path, BrokerAddress("127.0.0.1", 1), db)
    assert "secret" not in f"{said!r} {fleet_of(said.records).place}"
    file = config(tmp_path, BrokerAddress("127.0.0.1", 1), db)
    file.write_text(file.read_text().replace('password_file = "database.password"\n', ""))
    from_environment = read_writer(file, {"RINGTRUE_RECORDS__PASSWORD": "secret"})
    fleet = fleet_of(from_environment.records)
    with closing(fleet), fleet.transaction():
        assert "secret" not in f"{from_environment!r} {fleet.place}"


async def test_a_real_bay_sends_again_what_a_writer_missed(
    db: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From its journal, by the command `resend`, its chain's beginning too: nobody else has it any more."""
    monkeypatch.setattr("records.fleet.fetching.PATIENCE_S", 0.0)
    monkeypatch.setattr("records.fleet.writing.LOOK_EVERY_S", 0.2)
    running = Running(read_bay(Stand().config(tmp_path, 'broker = "mosquitto"\nport = 0'), {}))
    async with running.up(), ear(running.address) as heard:
        await inspect(running, heard, "i-1")
        said = settings(tmp_path, running.address, db)
        (tmp_path / "broker.password").write_text(running.address.password or "")
        access = {"username": running.address.username, "password_file": tmp_path / "broker.password"}
        async with writing(said.model_copy(update={"source": said.source.model_copy(update=access)})):
            await until_there(db, "SELECT FROM fleet_chains WHERE walked = told AND walked > 1")
            await until_there(db, f"SELECT FROM ({ALL_THERE}) AS one WHERE records = results")
    assert db.rows("SELECT count(*) FROM fleet_unproven") == [(0,)]
    assert db.refused() == []


async def test_a_backlog_comes_in_larger_batches(
    db: Database, broker: Mosquitto, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ringtrue.recording.BATCH_MAX", most := 4 * ENOUGH)
    said = settings(tmp_path, broker.address, db).source
    async with writing(settings(tmp_path, broker.address, db)):
        pass  # its session is there
    bay = IssuingBay()
    await publish(broker.address, [bay.begin(), *(bay.record(bay.document(f"{n}")) for n in range(most))])
    numbers = []
    # Of an iterator it is not known that it can be closed; each of ours can.
    async with asyncio.timeout(60), aclosing(source_of(said).batches()) as batches:  # type: ignore[type-var]
        async for batch in batches:
            numbers.append(len(batch.messages))
            await batch.taken()
            if sum(numbers) > most:
                break
    assert ENOUGH < max(numbers) <= most


async def test_the_next_batch_is_read_while_one_is_filed(
    db: Database, broker: Mosquitto, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bay, seen = IssuingBay(), asyncio.Event()
    loop = asyncio.get_running_loop()
    real = Filing.read

    def read(self: Filing, messages: Sequence[Message]) -> list[Read]:
        if any(b"truck-15" in payload for _, payload in messages):
            loop.call_soon_threadsafe(seen.set)
        return real(self, messages)

    monkeypatch.setattr(Filing, "read", read)
    async with writing(settings(tmp_path, broker.address, db)):
        with locked(db):
            await publish(broker.address, bay.issue("truck-14"))
            await until_waits(db)
            await publish(broker.address, bay.issue("truck-15"))
            async with asyncio.timeout(20):
                await seen.wait()
            assert db.rows("SELECT * FROM fleet_revisions") == []
        await until_stored(db, 2)
        await until(lambda: db.proven() == 2)
    sound(db, [bay], 2)
