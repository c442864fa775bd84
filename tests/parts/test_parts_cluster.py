"""A cluster as it ships for a fleet: what a bay's own broker bridges in, and a writer takes out."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, aclosing, asynccontextmanager, suppress
from pathlib import Path

import pytest
from nats.js.api import AckPolicy, ConsumerConfig

from config.bridge import BridgeSettings
from config.settings import BaySettings, MqttSettings
from config.stream import StreamSettings
from contract.subjects import subject_of
from contract.topics import Topics
from link import bursts
from link.address import BrokerAddress
from link.bridge import bridge_lines
from link.broker import BuiltInBroker
from link.bursts import BurstConnection
from link.errors import LinkError, StreamError
from link.kept import STREAM
from link.stream import StreamReader
from link.tasks import end
from records.fleet.arriving import BATCH_MAX, ENOUGH, GATHER_S
from tests.contract.test_contract_subjects import PAIRS
from tests.link.outside import WAIT_S
from tests.parts.authority import Authority
from tests.parts.broker import bridged_broker
from tests.parts.cluster import Cluster, cluster

pytestmark = pytest.mark.slow

BAY = BaySettings(site="greywacke", name="bay-2")
MINE, OTHERS = Topics("greywacke", "bay-2"), Topics("greywacke", "bay-1")


@pytest.fixture
async def nodes(tmp_path: Path) -> AsyncIterator[Cluster]:
    async with cluster(tmp_path, []) as running:
        yield running


def source(
    nodes: Cluster, user: str = "writer", batch_max: int = BATCH_MAX, **others: object
) -> StreamReader:
    certificate, key = nodes.authority.issue(user)
    return StreamReader(
        StreamSettings.model_validate(
            {
                "kind": "stream", "servers": nodes.servers, "ca_file": nodes.authority.file,
                "certificate": certificate, "key": key, **others,
            }
        ),
        ENOUGH,
        batch_max,
        GATHER_S,
    )  # fmt: skip


def at(nodes: Cluster, user: str, node: str = "a") -> BrokerAddress:
    """By MQTT, at one node."""
    certificate, key = nodes.authority.issue(user)
    ca_file = nodes.authority.file
    port = nodes.nodes[node].ports.mqtt
    return BrokerAddress(
        "127.0.0.1", port, tls=True, ca_file=ca_file, protocol=4, certificate=certificate, key=key
    )


@asynccontextmanager
async def let_in(nodes: Cluster, user: str, node: str = "a") -> AsyncIterator[BurstConnection]:
    """By MQTT. The first makes the cluster's own streams, and may have to ask more than once."""
    async with asyncio.timeout(WAIT_S), AsyncExitStack() as stack:
        while True:
            try:
                connection = await stack.enter_async_context(bursts.connect(at(nodes, user, node)))
            except LinkError:
                await asyncio.sleep(0.05)
            else:
                break
        yield connection


@asynccontextmanager
async def bay_broker(nodes: Cluster, folder: Path) -> AsyncIterator[BuiltInBroker]:
    """A bay's own, bridged."""
    broker = bridged_broker(folder, f"{BAY.site}/{BAY.name}", nodes.authority, nodes.addresses)
    await broker.start()
    try:
        yield broker
    finally:
        await broker.stop()


async def take(writer: StreamReader, count: int) -> list[tuple[str, bytes]]:
    """So many different messages, each acknowledged, in the order in which they came first: what is retained
    comes again with each new bridge."""
    got: dict[tuple[str, bytes], None] = {}
    async with asyncio.timeout(60), aclosing(writer.batches()) as batches:
        async for batch in batches:
            got |= dict.fromkeys(batch.messages)
            await batch.taken()
            if len(got) >= count:
                break
    return list(got)


async def test_from_a_bays_own_broker_to_a_writer(nodes: Cluster, tmp_path: Path) -> None:
    reading = asyncio.ensure_future(take(source(nodes), 5))
    async with bay_broker(nodes, tmp_path / "bay") as broker, bursts.connect(broker.address()) as bay:
        await nodes.until_made()
        sent = [
            (MINE.status, b"online"), (MINE.inspection_result("truck-14"), b"{1}"), (MINE.chain, b"{2}"),
            (MINE.checkpoint, b"{3}"), (MINE.inspection_result("a.b"), b"{4}"), (MINE.result, b"{1}"),
            (MINE.health, b"{}"), (MINE.event("truck-14"), b"{}"), (MINE.chain, b"{5}"),
        ]  # fmt: skip
        for topic, payload in sent:
            await bay.publish(topic, payload, qos=1, retain=topic in (MINE.checkpoint, MINE.status))
        assert set(await reading) == {sent[n] for n in (1, 2, 3, 4, 8)}
        async with let_in(nodes, "office") as office, bursts.connect(broker.address()) as other:
            await other.subscribe(MINE.issued_method)
            await office.publish(MINE.issued_method, b"signed", qos=1, retain=True)
            assert (await other.next_message()).payload == b"signed"
        # Kept for displays that come later, and nothing but what a fleet keeps.
        async with let_in(nodes, "display", "b") as display:
            await display.subscribe("ringtrue/1/#")
            kept = {(await display.next_message()).topic for _ in range(3)}
        assert kept == {MINE.status, MINE.checkpoint, MINE.issued_method}


async def test_what_no_writer_has_acknowledged_comes_again_and_to_one_of_several(nodes: Cluster) -> None:
    first = source(nodes, batch_max=ENOUGH).batches()
    opening = asyncio.ensure_future(anext(first))
    await nodes.until_made()
    topics = [MINE.inspection_result(f"i-{n}") for n in range(120)]
    async with let_in(nodes, "greywacke/bay-2") as bay:
        for topic in topics:
            await bay.publish(topic, b"{}", qos=1)
    held = await opening
    await first.aclose()  # a writer that ends before its commit
    two = (source(nodes, batch_max=ENOUGH) for _ in range(2))
    both = await asyncio.gather(*map(take, two, (60, 20)))
    rest = len(topics) - len({message for some in both for message in some})
    more = await take(source(nodes), rest) if rest else []
    came = {topic for some in (*both, more) for topic, _ in some}
    assert {topic for topic, _ in held.messages} <= came == set(topics)
    async with nodes.asking() as stream:
        kept = await stream.consumer_info(STREAM, "writer")
        assert kept.num_pending == 0


async def test_a_bay_writes_only_below_its_own_root_and_a_display_nowhere(nodes: Cluster) -> None:
    reading = asyncio.ensure_future(take(source(nodes), 1))
    await nodes.until_made()
    for user, topic in (("greywacke/bay-2", OTHERS.chain), ("display", MINE.chain), ("writer", MINE.chain)):
        async with let_in(nodes, user) as other:
            with suppress(LinkError):
                await other.publish(topic, b"forged", qos=1)
    async with let_in(nodes, "greywacke/bay-2") as bay:
        await bay.publish(MINE.chain, b"{}", qos=1)
        with pytest.raises(LinkError, match="does not allow to read ringtrue"):
            await bay.subscribe("ringtrue/1/#")
    assert await reading == [(MINE.chain, b"{}")]
    with pytest.raises(LinkError, match=r"lets nobody in|refused"):
        async with bursts.connect(at(nodes, "greywacke/bay-9")):
            pass


async def test_a_writer_that_may_not_is_told_in_one_line(
    nodes: Cluster, capsys: pytest.CaptureFixture[str]
) -> None:
    for user, said in (
        ("somebody", "its user (with a certificate, the subject) must stand in node-users.conf"),
        ("greywacke/bay-2", "it refuses this user"),
        ("display", "it refuses this user"),
    ):
        trying = asyncio.ensure_future(take(source(nodes, user), 1))
        text = ""
        async with asyncio.timeout(30):
            while said not in text:  # the log tells no loop
                await asyncio.sleep(0.05)
                text += capsys.readouterr().out
        await end(trying)
        assert text.count("trying on") == 1


async def test_where_nobody_is_there_it_says_so_once_and_tries_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    nobody = Cluster(tmp_path / "cluster", Authority(tmp_path / "authority"), [])
    trying = asyncio.ensure_future(take(source(nobody), 1))
    said = ""
    async with asyncio.timeout(WAIT_S):
        while "cannot be reached" not in said:  # the log tells no loop
            await asyncio.sleep(0.05)
            said += capsys.readouterr().out
    await end(trying)
    assert said.count("the cluster is not there; trying on") == 1


async def test_names_cross_as_the_cluster_calls_them(nodes: Cluster) -> None:
    asked = [topic for topic in PAIRS if topic.startswith("ringtrue/1/s/b/inspection/")]
    reading = asyncio.ensure_future(take(source(nodes), len(asked)))
    await nodes.until_made()
    node = nodes.nodes["a"]
    users = node.config.with_name("node-users.conf")
    users.write_text(users.read_text().replace("ringtrue.1.greywacke.bay-2.>", "ringtrue.1.>"))
    await node.reload()
    async with let_in(nodes, "greywacke/bay-2") as bay:
        for topic in asked:
            await bay.publish(topic, subject_of(topic).encode(), qos=1)
    assert set(await reading) == {(topic, PAIRS[topic].encode()) for topic in asked}


async def test_a_consumer_that_is_not_as_it_must_be_is_told(
    nodes: Cluster, capsys: pytest.CaptureFixture[str]
) -> None:
    reading = asyncio.ensure_future(take(source(nodes), 1))
    await nodes.until_made()
    await end(reading)
    async with nodes.asking() as stream:
        await stream.add_consumer(
            STREAM, ConsumerConfig(durable_name="half", ack_policy=AckPolicy.NONE, num_replicas=3)
        )
    with pytest.raises(StreamError, match=r"consumer half of .* has ack_policy none, .*another name"):
        await take(source(nodes, consumer="half"), 1)
    with pytest.raises(StreamError, match=r"keeps \$MQTT_msgs in .*file, 5 times"):
        await take(source(nodes, replicas=5), 1)


async def test_bays_that_were_there_before_any_writer_are_told_of(
    nodes: Cluster, capsys: pytest.CaptureFixture[str]
) -> None:
    async with let_in(nodes, "greywacke/bay-2") as bay:
        for _ in range(3):
            await bay.publish(MINE.chain, b"{}", qos=1)
        reading = asyncio.ensure_future(take(source(nodes), 1))
        await nodes.until_made()
        await bay.publish(MINE.chain, b"later", qos=1)
        assert await reading == [(MINE.chain, b"later")]
    assert "bays bridged before there was a writer" in capsys.readouterr().out


async def test_a_full_cluster_refuses_and_the_bay_keeps_it_for_later(nodes: Cluster, tmp_path: Path) -> None:
    """Also where MQTT of the cluster made the stream before any writer came, without an end."""
    async with let_in(nodes, "office"):
        pass
    small = source(nodes, keep_gb=0.001)
    reading = asyncio.ensure_future(take(small, 1))
    await nodes.until_made()
    await end(reading)
    sent = [(MINE.inspection_result(f"i-{n}"), bytes([n]) * 18_000) for n in range(150)]
    async with bay_broker(nodes, tmp_path / "bay") as broker, bursts.connect(broker.address()) as bay:
        for topic, payload in sent:
            await bay.publish(topic, payload, qos=1)
        async with asyncio.timeout(WAIT_S), nodes.asking() as stream:
            while "maximum bytes exceeded" not in nodes.said():  # noqa: ASYNC110 a log tells nobody
                await asyncio.sleep(0.05)
            kept = (await stream.stream_info(STREAM)).state
        assert kept.bytes <= 1_000_000
        assert kept.messages < len(sent)
        assert set(await take(small, len(sent))) == set(sent)


async def test_without_two_nodes_a_bays_own_broker_keeps_it(nodes: Cluster, tmp_path: Path) -> None:
    reading = asyncio.ensure_future(take(source(nodes), 5))
    await nodes.until_made()
    sent = [(MINE.inspection_result(f"i-{n}"), b"{}") for n in range(5)]
    async with bay_broker(nodes, tmp_path / "bay") as broker, bursts.connect(broker.address()) as bay:
        for name in ("b", "c"):
            await nodes.nodes[name].kill()
        for topic, payload in sent:
            await bay.publish(topic, payload, qos=1)
        for name in ("b", "c"):
            await nodes.nodes[name].start()
        assert set(await reading) == set(sent)


async def test_a_bay_whose_bridge_is_not_let_in_says_so_once(
    nodes: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stranger, mine = nodes.authority.issue("greywacke/bay-9"), nodes.authority.issue("greywacke/bay-2")
    others = Authority(tmp_path / "other", "somebody else's authority").file
    for (certificate, key), ca_file, addresses, why in (
        (stranger, nodes.authority.file, nodes.addresses, "it refuses this bay"),
        (mine, others, nodes.addresses, "its certificate is not one of [bridge] ca_file"),
        (mine, nodes.authority.file, ["mqtts://127.0.0.1:9"], "it cannot be reached"),
    ):
        bridge = BridgeSettings(addresses=tuple(addresses), ca_file=ca_file, certificate=certificate, key=key)
        folder = tmp_path / f"bay-{len(why)}"
        broker = BuiltInBroker(MqttSettings(port=0, folder=folder), bridge_lines(bridge, BAY))
        await broker.start()
        said = ""
        async with asyncio.timeout(WAIT_S):
            while why not in said:  # the log tells no loop
                await asyncio.sleep(0.05)
                said += capsys.readouterr().out
        await broker.stop()
        assert said.count("what it is to have waits here") == 1
