"""The edge node, on a real broker, heard by a client that is not ours and read by a public decoder.

Names in brackets are the conformance ids of the Sparkplug specification 3.0.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any

import pysparkplug
import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from contract.document import encode
from contract.states import GaugeStateMessage, gauge_state_payload, status_payload
from contract.topics import Topics
from link.address import BrokerAddress
from link.sparkplug import node as node_module
from link.sparkplug.node import GAUGES_MAX, EdgeNode
from link.sparkplug.numbers import kept
from link.tasks import end
from tests.link.outside import Cable, Mosquitto, mosquitto
from tests.ringtrue.test_ringtrue_watch import RESULT

pytestmark = pytest.mark.slow

TOPICS = Topics("greywacke", "bay-2")
ABSENT = GaugeStateMessage(state="absent", reason="unplugged", since="2026-11-26T06:00:00.000Z")
WAIT_S = 20.0


@dataclass(frozen=True)
class Heard:
    """A message as it came. payload: as the public decoder reads it."""

    kind: str
    payload: Any
    qos: int
    retain: bool

    @property
    def values(self) -> dict[str, Any]:
        if isinstance(self.payload, pysparkplug.NDeath):
            return {"bdSeq": self.payload.bd_seq_metric.value}
        return {metric.name: metric.value for metric in self.payload.metrics}


@dataclass
class Host:
    """A host application: hears the group, and asks."""

    client: Client
    heard: list[Heard] = field(default_factory=list)
    news: threading.Condition = field(default_factory=threading.Condition)

    def on_message(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        kind = message.topic.split("/")[2]
        if kind == "NCMD":
            return
        decoded = pysparkplug.Message.from_mqtt_message(message).payload
        with self.news:
            self.heard.append(Heard(kind, decoded, message.qos, message.retain))
            self.news.notify_all()

    async def until(self, is_so: Callable[[list[Heard]], bool]) -> list[Heard]:
        def wait() -> list[Heard]:
            with self.news:
                assert self.news.wait_for(lambda: is_so(self.heard), WAIT_S), self.heard
                return list(self.heard)

        return await asyncio.to_thread(wait)

    async def nth(self, kind: str, number: int = 1) -> Heard:
        """The n-th message of a kind."""
        heard = await self.until(lambda all_: sum(one.kind == kind for one in all_) >= number)
        return [one for one in heard if one.kind == kind][number - 1]

    def say(self, topic: str, payload: bytes, *, retain: bool = False) -> None:
        self.client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(WAIT_S)


@asynccontextmanager
async def hosting(address: BrokerAddress) -> AsyncIterator[Host]:
    client = Client(CallbackAPIVersion.VERSION2)
    host = Host(client)
    subscribed = threading.Event()
    client.on_message = host.on_message
    client.on_subscribe = lambda *_: subscribed.set()
    client.connect(address.host, address.port)
    client.subscribe("spBv1.0/quarry/#", qos=1)
    client.loop_start()
    try:
        assert await asyncio.to_thread(subscribed.wait, WAIT_S)
        yield host
    finally:
        client.disconnect()
        client.loop_stop()


@asynccontextmanager
async def living(address: BrokerAddress, numbers: Iterator[int] | None = None) -> AsyncIterator[EdgeNode]:
    node = EdgeNode(TOPICS, "quarry", "bay-2", lambda: address, numbers or count())
    running = asyncio.ensure_future(node.run())
    try:
        yield node
        node.leave()
        await asyncio.wait_for(running, WAIT_S)
    finally:
        await end(running)


@pytest.fixture
async def broker(tmp_path: Path) -> AsyncIterator[Mosquitto]:
    async with mosquitto(tmp_path) as made:
        yield made


def rebirth(value: bool) -> bytes:
    metric = pysparkplug.Metric(
        timestamp=1, name="Node Control/Rebirth", datatype=pysparkplug.DataType.BOOLEAN, value=value
    )
    return pysparkplug.NCmd(timestamp=1, metrics=(metric,)).encode(include_dtypes=True)


async def test_a_node_is_born_with_all_it_knows_and_tells_what_changes(broker: Mosquitto) -> None:
    async with hosting(broker.address) as host:
        host.say(TOPICS.status, status_payload("online"), retain=True)
        host.say(TOPICS.result, encode(RESULT), retain=True)
        host.say(TOPICS.gauge_state("indicator-1"), gauge_state_payload(ABSENT), retain=True)
        async with living(broker.address):
            birth = await host.nth("NBIRTH")
            # [topics-nbirth-mqtt, topics-nbirth-seq-num, payloads-sequence-num-zero-nbirth]
            assert (birth.qos, birth.retain, birth.payload.seq) == (0, False, 0)
            # [topics-nbirth-metric-reqs, payloads-metric-datatype-req, payloads-name-birth-data-requirement]
            assert all(metric.name and metric.timestamp for metric in birth.payload.metrics)
            # [topics-nbirth-bdseq-included, payloads-nbirth-bdseq]
            assert birth.values["bdSeq"] == 0
            # [topics-nbirth-rebirth-metric, operational-behavior-data-commands-rebirth-value]
            assert birth.values["Node Control/Rebirth"] is False
            assert birth.values["Bay/Running"] is True
            assert birth.values["Gauges/indicator-1/State"] == "absent"
            assert birth.values["Inspection/Verdict"] == RESULT.verdict
            assert birth.values["Inspection/Decision"] is None
            assert RESULT.checks.rim is not None
            assert birth.values["Checks/rim/Figure"] == RESULT.checks.rim.true_tir_mm
            assert birth.values["Checks/thickness/Figure"] is None
            assert "R. Example" not in str(birth.payload)

            host.say(TOPICS.status, status_payload("offline"), retain=True)
            first = await host.nth("NDATA")
            # [topics-ndata-mqtt, topics-ndata-seq-num, payloads-sequence-num-incrementing]
            assert (first.qos, first.retain, first.payload.seq) == (0, False, 1)
            assert first.values == {"Bay/Running": False}  # by exception
            host.say(TOPICS.status, status_payload("online"), retain=True)
            second = await host.nth("NDATA", 2)
            assert (second.payload.seq, second.values) == (2, {"Bay/Running": True})
        # [operational-behavior-edge-node-intentional-disconnect-ndeath]
        death = await host.nth("NDEATH")
        # [payloads-ndeath-seq, topics-ndeath-payload]: the number of its birth, and no sequence number
        assert death.values == {"bdSeq": 0}
        assert not hasattr(death.payload, "seq")
        assert (death.qos, death.retain) == (1, False)


async def test_asked_to_be_born_again_it_is(broker: Mosquitto) -> None:
    async with hosting(broker.address) as host, living(broker.address):
        await host.nth("NBIRTH")
        for nothing in (rebirth(False), b"\xff no payload"):
            host.say("spBv1.0/quarry/NCMD/bay-2", nothing)
        host.say("spBv1.0/quarry/NCMD/bay-2", rebirth(True))
        again = await host.nth("NBIRTH", 2)
        # [operational-behavior-data-commands-rebirth-action-2, -3]: seq 0 again, of the same session
        assert (again.payload.seq, again.values["bdSeq"]) == (0, 0)
        host.say(TOPICS.status, status_payload("online"), retain=True)
        assert (await host.nth("NDATA")).payload.seq == 1
        assert sum(one.kind == "NBIRTH" for one in host.heard) == 2


async def test_what_its_birth_did_not_name_needs_another_birth(broker: Mosquitto) -> None:
    async with hosting(broker.address) as host, living(broker.address):
        await host.nth("NBIRTH")
        host.say(TOPICS.gauge_state("micrometer-1"), gauge_state_payload(ABSENT), retain=True)
        again = await host.nth("NBIRTH", 2)
        assert again.values["Gauges/micrometer-1/State"] == "absent"


async def test_a_node_whose_connection_is_lost_dies_by_its_will_and_is_born_with_another_number(
    broker: Mosquitto,
) -> None:
    async with Cable(broker.address) as cable, hosting(broker.address) as host:
        async with living(cable.address):
            assert (await host.nth("NBIRTH")).values["bdSeq"] == 0
            await cable.pull()
            death = await host.nth("NDEATH")
            # [payloads-ndeath-will-message-qos, -retain, message-flow-edge-node-birth-publish-will-message]
            assert (death.values, death.qos, death.retain) == ({"bdSeq": 0}, 1, False)
            await cable.plug_in()
            again = await host.nth("NBIRTH", 2)
            # [payloads-nbirth-bdseq]: one more for each connection
            assert again.values["bdSeq"] > 0
            assert again.payload.seq == 0
        last = (await host.until(lambda all_: all_[-1].kind == "NDEATH"))[-1]
        assert last.values == {"bdSeq": again.values["bdSeq"]}


async def test_the_sequence_begins_again_after_its_last(
    broker: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert node_module.COUNTS - 1 == 255
    monkeypatch.setattr(node_module, "COUNTS", 4)
    monkeypatch.setattr(node_module, "GATHER_S", 0.0)
    async with hosting(broker.address) as host, living(broker.address):
        await host.nth("NBIRTH")
        for number in range(1, 7):
            state = "online" if number % 2 else "offline"
            host.say(TOPICS.status, status_payload(state))  # type: ignore[arg-type]  # one of the two
            await host.nth("NDATA", number)
        counted = [one.payload.seq for one in host.heard if one.kind == "NDATA"]
    assert counted == [1, 2, 3, 0, 1, 2]


async def test_a_node_started_anew_has_another_number_than_before(broker: Mosquitto, tmp_path: Path) -> None:
    """[message-flow-edge-node-birth-publish-will-message-payload-bdSeq]: one more than in the CONNECT before,
    or a host that hears of the death late takes the living one for dead."""
    file = tmp_path / "var" / "sparkplug.bdseq"
    async with hosting(broker.address) as host:
        for number in (0, 1):
            async with living(broker.address, kept(file)):
                assert (await host.nth("NBIRTH", number + 1)).values["bdSeq"] == number


def test_its_numbers_go_on_whatever_was_kept(tmp_path: Path) -> None:
    file = tmp_path / "bdseq"
    file.write_text("254\n")
    numbers = kept(file)
    assert [next(numbers), next(numbers), next(kept(file))] == [255, 0, 1]
    file.write_bytes(b"\xff no number")
    assert next(kept(file)) == 0
    file.unlink()
    file.mkdir()
    numbers = kept(file)
    assert [next(numbers), next(numbers)] == [0, 1]


async def test_what_is_none_of_a_bays_does_not_end_it(broker: Mosquitto) -> None:
    huge = encode(RESULT.model_copy(update={"revision": 10**30}))
    async with hosting(broker.address) as host:
        for payload in (huge, b"[" * 10_000, b"\xff"):
            host.say(TOPICS.result, payload, retain=True)
        for number in range(GAUGES_MAX + 20):
            host.say(TOPICS.gauge_state(f"none-{number}"), gauge_state_payload(ABSENT), retain=True)
        host.say(TOPICS.result, huge, retain=True)
        async with living(broker.address):
            birth = await host.nth("NBIRTH")
            assert birth.values["Inspection/Revision"] is None
            host.say(TOPICS.status, status_payload("online"), retain=True)
            await host.until(lambda all_: any(one.values.get("Bay/Running") for one in all_))
            last = [one for one in host.heard if one.kind == "NBIRTH"][-1]
            assert sum(name.startswith("Gauges/") for name in last.values) == GAUGES_MAX
