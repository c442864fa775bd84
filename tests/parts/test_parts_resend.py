"""What a reader missed comes from a bay behind a bridge: the one command that crosses to it."""

from __future__ import annotations

import asyncio
import json
import random
from collections.abc import AsyncIterator, Iterator
from contextlib import aclosing, asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from config.bridge import BridgeSettings
from config.settings import MqttSettings
from config.writer import BaysSettings
from contract.subjects import subject_of
from link import bursts
from link.bridge import bridge_lines
from link.broker import BuiltInBroker
from link.stream import StreamBatch, StreamReader
from link.tasks import end
from records.fleet import fetching, writing
from records.fleet.bays import Bays
from records.fleet.fetching import Fetching
from records.fleet.filing import Filing
from records.fleet.writing import Writer
from tests.link.outside import WAIT_S, until
from tests.parts.bays import Bay
from tests.parts.broker import fleet_broker
from tests.parts.cluster import Cluster, cluster
from tests.parts.postgres import Postgres
from tests.parts.test_parts_cluster import BAY, MINE, bay_broker, let_in, source, take
from tests.records.filed import Database, database

pytestmark = pytest.mark.slow

NAME = f"{BAY.site}/{BAY.name}"


@pytest.fixture
def db(postgres: Postgres) -> Iterator[Database]:
    with database(postgres) as made:
        yield made


@pytest.fixture
async def nodes(tmp_path: Path) -> AsyncIterator[Cluster]:
    async with cluster(tmp_path, []) as running:
        yield running


@dataclass
class Careless:
    """A reader that loses the first result that it is handed."""

    reader: StreamReader
    has_lost: bool = False

    async def batches(self) -> AsyncIterator[Careless.Some]:
        async with aclosing(self.reader.batches()) as batches:
            async for batch in batches:
                kept = [one for one in batch.messages if self.has_lost or not one[0].endswith("/result")]
                self.has_lost |= len(kept) < len(batch.messages)
                yield Careless.Some(kept, batch)

    async def ask(self, topic: str, payload: bytes) -> bool:
        return await self.reader.ask(topic, payload)

    @dataclass
    class Some:
        messages: list[tuple[str, bytes]]
        batch: StreamBatch

        async def taken(self) -> None:
            await self.batch.taken()


@asynccontextmanager
async def working(broker: BuiltInBroker, folder: Path) -> AsyncIterator[Bay]:
    """The bay on its own broker."""
    bay = Bay(NAME, broker.address(), folder)
    staying = asyncio.ensure_future(bay.stay())
    try:
        await until(lambda: bay.is_up)
        yield bay
    finally:
        await end(staying)
        bay.shut()


async def test_a_writer_has_a_bay_behind_a_bridge_send_again(
    nodes: Cluster, db: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fetching, "PATIENCE_S", 0.2)
    monkeypatch.setattr(fetching, "PAUSE_FIRST_S", 1.0)
    monkeypatch.setattr(writing, "LOOK_EVERY_S", 0.2)
    reader = Careless(source(nodes))
    writer = Writer(reader, Filing(db.fleet, Bays(BaysSettings())), [Fetching(db.fleet, reader).look])
    running = asyncio.ensure_future(writer.run())
    try:
        await nodes.until_made()
        async with bay_broker(nodes, tmp_path / "bay") as broker, working(broker, tmp_path) as bay:
            for number in range(3):
                bay.close(number, random.Random(number), 2)
            async with asyncio.timeout(WAIT_S):
                while db.rows("SELECT count(*) FROM fleet_revisions") != [(3,)]:
                    assert not running.done()
                    await asyncio.sleep(0.05)
            assert reader.has_lost
            assert bay.resends > 0
            found = db.rows("SELECT inspection, sha256 FROM fleet_revisions")
            assert sorted(found) == sorted(bay.issued.items())
        assert db.rows("SELECT what FROM fleet_breaks") == []
        assert db.refused() == []
    finally:
        writer.leave()
        await running


def a_resend(since: str = "2026-11-26T05:00:00.000Z") -> bytes:
    return json.dumps({"id": "writer-1", "operator": "ringtrue writer", "since": since}).encode()


async def test_no_other_command_crosses_from_a_cluster(nodes: Cluster, tmp_path: Path) -> None:
    """Not even where somebody may publish it there: here the bay's own user, below its own root."""
    async with bay_broker(nodes, tmp_path / "bay") as broker, bursts.connect(broker.address()) as bay:
        await bay.subscribe(MINE.commands)
        async with let_in(nodes, NAME) as other:
            heard = asyncio.ensure_future(bay.next_message())
            while not heard.done():  # the bridge comes when it does
                for name in ("open", "sign", "resend/more", "resend"):
                    await other.publish(MINE.command(name), a_resend(), qos=1)
                await asyncio.sleep(0.1)
            assert (await heard).topic == MINE.command("resend")
            await other.publish(MINE.command("abandon"), a_resend(), qos=1)
            await other.publish(MINE.command("resend"), b"last", qos=1)
            topics = set()
            while (message := await bay.next_message()).payload != b"last":
                topics.add(message.topic)
            assert topics <= {MINE.command("resend")}


async def test_a_writer_may_ask_nothing_else_and_is_told_where_nobody_hears(
    nodes: Cluster, capsys: pytest.CaptureFixture[str]
) -> None:
    reader = source(nodes)
    assert not await reader.ask(MINE.command("resend"), a_resend())  # no connection
    batches = reader.batches()
    reading = asyncio.ensure_future(anext(batches))
    await until(lambda: reader._client is not None)
    assert not await reader.ask(MINE.command("resend"), a_resend())  # no bay
    async with let_in(nodes, NAME) as bay:
        await bay.subscribe(MINE.command("resend"), qos=0)
        await until_asked(reader)
        assert (await bay.next_message()).payload == a_resend()
        assert not await reader.ask(MINE.command("open"), b"{}")
    assert "does not let this writer ask" in capsys.readouterr().out
    await end(reading)
    await batches.aclose()


async def until_asked(reader: StreamReader) -> None:
    """All nodes must have heard of a subscription first."""
    async with asyncio.timeout(WAIT_S):
        while not await reader.ask(MINE.command("resend"), a_resend()):  # noqa: ASYNC110 they tell nobody
            await asyncio.sleep(0.05)


async def test_it_crosses_from_a_single_mosquitto_too(tmp_path: Path) -> None:
    async with fleet_broker(tmp_path, [NAME]) as fleet:
        mine = fleet.address(NAME)
        (tmp_path / "password").write_text(f"{mine.password}\n")
        bridge = BridgeSettings(
            addresses=(mine.url,), ca_file=mine.ca_file, username=NAME, password_file=tmp_path / "password"
        )
        own = BuiltInBroker(MqttSettings(port=0, folder=tmp_path / "own"), bridge_lines(bridge, BAY))
        await own.start()
        try:
            async with (
                bursts.connect(own.address()) as bay,
                bursts.connect(fleet.address("writer")) as writer,
            ):
                await bay.subscribe(MINE.commands)
                heard = asyncio.ensure_future(bay.next_message())
                while not heard.done():  # the bridge comes when it does
                    await writer.publish(MINE.command("resend"), a_resend(), qos=1)
                    await asyncio.sleep(0.1)
                assert (await heard).payload == a_resend()
        finally:
            await own.stop()


async def test_a_cluster_whose_list_is_of_before_takes_results_all_the_same(
    nodes: Cluster, tmp_path: Path
) -> None:
    for node in nodes.nodes.values():
        users = node.config.with_name("node-users.conf")
        before = users.read_text()
        users.write_text(before.replace(f', "{subject_of(MINE.command("resend"))}"', ""))
        assert users.read_text() != before
        await node.reload()
    reading = asyncio.ensure_future(take(source(nodes), 2))
    await nodes.until_made()
    async with bay_broker(nodes, tmp_path / "bay") as broker, bursts.connect(broker.address()) as bay:
        for payload in (b"1", b"2"):
            await bay.publish(MINE.chain, payload, qos=1)
        assert set(await reading) == {(MINE.chain, b"1"), (MINE.chain, b"2")}
