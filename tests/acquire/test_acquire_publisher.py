"""What goes out: retained state, live, readings, replies, the outbox; over a broker that comes and goes."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from acquire.publisher import READINGS_MAX, Publisher
from contract.states import reading_payload
from contract.topics import Topics
from contract.units import Unit
from drivers.reading import Reading
from link.address import BrokerAddress, Will
from link.bursts import connect
from link.connection import stay_connected
from link.errors import LinkError
from link.tasks import end
from tests.link.outside import Cable, Mosquitto, ear, json_of, mosquitto, speak, until

pytestmark = pytest.mark.slow

TOPICS = Topics("greywacke", "bay-2")


@dataclass(frozen=True)
class Row:
    id: int
    topic: str
    payload: bytes
    qos: int = 1
    retain: bool = False


@dataclass
class ListOutbox:
    """An outbox in memory, with the journal's manner: rows stay until done."""

    rows: list[Row] = field(default_factory=list)

    async def pending(self, limit: int, without: Collection[int] = ()) -> list[Row]:
        return [row for row in self.rows if row.id not in without][:limit]

    async def done(self, row_id: int) -> None:
        self.rows = [row for row in self.rows if row.id != row_id]


@dataclass
class Bench:
    """A publisher with what it is given."""

    address: BrokerAddress
    outbox: ListOutbox = field(default_factory=ListOutbox)
    commands: list[tuple[str, bytes, bool]] = field(default_factory=list)
    live: bytes = b'{"check":null}'
    downs: list[LinkError] = field(default_factory=list)
    readings_max: int = READINGS_MAX

    def __post_init__(self) -> None:
        self.publisher = Publisher(
            TOPICS,
            self.outbox,
            live=lambda: self.live,
            on_command=lambda *command: self.commands.append(command),
            readings_max=self.readings_max,
        )

    @asynccontextmanager
    async def connected(self) -> AsyncIterator[Publisher]:
        """Keep it connected while the block runs."""
        will = Will(TOPICS.status, b'{"state":"offline"}')
        running = asyncio.ensure_future(
            stay_connected(
                lambda: self.address,
                self.publisher.session,
                connect=connect,
                will=will,
                on_down=self.downs.append,
            )
        )
        try:
            yield self.publisher
        finally:
            await end(running)

    def put(self, *numbers: int) -> None:
        """Results into the outbox."""
        for n in numbers:
            self.outbox.rows.append(Row(n, TOPICS.inspection_result(f"i{n}"), str(n).encode()))
        self.publisher.outbox_grew()


async def until_connected(publisher: Publisher, times: int = 1) -> None:
    await until(lambda: publisher.is_connected and publisher.statistics().connects >= times)


def reading(seq: int) -> Reading:
    return Reading("indicator-1", seq, 1000 + seq, 190_000, Unit.NM)


async def test_a_display_just_switched_on_has_all_that_is_kept(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        bench = Bench(broker.address)
        bench.publisher.keep(TOPICS.gauge_state("indicator-1"), b'{"state":"absent"}')
        async with bench.connected() as publisher:
            await until_connected(publisher)
            publisher.keep(TOPICS.gauge_state("indicator-1"), b'{"state":"connected"}')
            async with ear(broker.address) as first:
                await first.until_payload("indicator-1/state", '{"state":"connected"}')
                await first.until_payload("/live")
            async with ear(broker.address) as late:
                await late.until(lambda heard: len([1 for _, retained, _ in heard if retained]) >= 3)
        kept = {topic: payload for topic, retained, payload in late.heard if retained}
        assert kept == {
            TOPICS.status: '{"state":"online"}',
            TOPICS.gauge_state("indicator-1"): '{"state":"connected"}',
            TOPICS.live: '{"check":null}',
        }


async def test_the_state_of_a_gauge_that_is_configured_no_more_is_cleared(tmp_path: Path) -> None:
    gone, there = (TOPICS.gauge_state(name) for name in ("indicator-9", "indicator-1"))
    async with mosquitto(tmp_path) as broker:
        await speak(broker.address, gone, '{"state":"connected"}', "-r")
        bench = Bench(broker.address)
        bench.publisher.keep(there, b'{"state":"connected"}')
        async with ear(broker.address) as heard, bench.connected() as publisher:
            await until_connected(publisher)
            await heard.until(lambda _: heard.payloads("indicator-9/state")[-1:] == [""])
            async with ear(broker.address) as late:
                await late.until(lambda _: late.payloads("indicator-1/state") != [])
                assert late.payloads("indicator-9/state") == []


async def test_live_is_sent_at_most_twenty_times_a_second_and_the_last_always(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        bench = Bench(broker.address)
        async with ear(broker.address) as heard, bench.connected() as publisher:
            await until_connected(publisher)
            loop = asyncio.get_running_loop()
            began = loop.time()
            for n in range(200):
                bench.live = f'{{"n":{n}}}'.encode()
                publisher.live_changed()
                await asyncio.sleep(0.002)
            took_s = loop.time() - began
            await heard.until_payload("/live", '{"n":199}')
        assert 3 <= len(heard.payloads("/live")) <= took_s * 20 + 3


async def test_readings_go_out_in_order_and_the_oldest_make_room(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        bench = Bench(broker.address, readings_max=10)
        bench.publisher.reading(reading(0))
        async with ear(broker.address) as heard, bench.connected() as publisher:
            await until_connected(publisher)
            for seq in range(1, 31):
                publisher.reading(reading(seq))
            publisher.send_readings()
            await heard.until(lambda _: len(heard.payloads("/reading")) >= 10)
        readings = [json_of(payload) for payload in heard.payloads("/reading")]
        assert [r["seq"] for r in readings] == list(range(21, 31))
        assert readings[0] == {"seq": 21, "t_ns": 1021, "value_mm": 0.19}
        counts = publisher.statistics()
        assert (counts.readings_sent, counts.readings_dropped, counts.readings_peak) == (10, 21, 10)


async def test_readings_wait_for_a_broker_that_takes_no_more_and_lose_none(tmp_path: Path) -> None:
    lines = ["allow_anonymous true", "max_queued_messages 0"]
    async with mosquitto(tmp_path, lines) as broker:
        bench = Bench(broker.address, readings_max=200_000)
        async with ear(broker.address) as heard, bench.connected() as publisher:
            await until_connected(publisher)
            assert broker.pid is not None
            os.kill(broker.pid, signal.SIGSTOP)
            for seq in range(100_000):  # far more than sockets hold
                publisher.reading(reading(seq))
            publisher.send_readings()
            assert publisher.statistics().readings_sent < 100_000
            os.kill(broker.pid, signal.SIGCONT)
            await heard.until(lambda _: publisher.statistics().readings_sent == 100_000)
            await heard.until_payload("/reading", reading_payload(99_999, 100_999, 190_000, Unit.NM).decode())
        assert [json_of(said)["seq"] for said in heard.payloads("/reading")] == list(range(100_000))


async def test_commands_come_in_and_retained_ones_are_known_as_such(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        bench = Bench(broker.address)
        await speak(broker.address, TOPICS.command("close"), "kept before", "-r")
        async with bench.connected() as publisher:
            await until_connected(publisher)
            await speak(broker.address, TOPICS.command("open"), "plain")
            await speak(broker.address, TOPICS.command("end"), "kept now", "-r")
            await until(lambda: len(bench.commands) >= 3)
    assert sorted(bench.commands) == [
        ("close", b"kept before", True), ("end", b"kept now", True), ("open", b"plain", False),
    ]  # fmt: skip


async def outbox_empty(bench: Bench) -> None:
    await until(lambda: not bench.outbox.rows)


async def test_a_connection_away_costs_nothing_but_lateness(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker, Cable(broker.address) as cable:
        bench = Bench(cable.address)
        publisher = bench.publisher
        async with ear(broker.address) as heard, bench.connected():
            bench.put(*range(1, 6))
            await outbox_empty(bench)
            await cable.pull()
            await heard.until_payload("/status", '{"state":"offline"}')
            bench.put(*range(6, 206))
            publisher.reply("r1", b'{"id":"r1","ok":true}')
            publisher.reading(reading(1))
            publisher.send_readings()
            assert len(bench.outbox.rows) == 200
            await cable.plug_in()
            await heard.until_payload("/i205/result")
            await heard.until_payload("/reply/r1")
            await outbox_empty(bench)
        assert [int(payload) for payload in heard.payloads("/result")] == list(range(1, 206))
        assert heard.payloads("/status") == [f'{{"state":"{s}"}}' for s in ("online", "offline", "online")]
        counts = publisher.statistics()
        assert (counts.outbox_sent, counts.readings_dropped, counts.connects) == (205, 1, 2)
        assert bench.downs


async def test_a_broker_that_forgets_is_told_everything_again(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        bench = Bench(broker.address)
        publisher = bench.publisher
        publisher.keep(TOPICS.gauge_state("indicator-1"), b'{"state":"connected"}')
        bench.outbox.rows.append(Row(1, TOPICS.result, b'{"revision":1}', retain=True))
        async with bench.connected():
            await outbox_empty(bench)
            await broker.kill()
            await broker.start()
            await until_connected(publisher, 2)
            async with ear(broker.address) as late:
                await late.until_payload("indicator-1/state", '{"state":"connected"}')
                await late.until_payload("/status", '{"state":"online"}')
                await late.until_payload("bay-2/result", '{"revision":1}')
                await late.until_payload("/live")


async def test_leaving_says_offline_and_a_broken_connection_too(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        bench = Bench(broker.address)
        async with ear(broker.address) as heard, bench.connected() as publisher:
            await until_connected(publisher)
            publisher.leave()
            await heard.until_payload("/status", '{"state":"offline"}')
        assert heard.payloads("/status") == ['{"state":"online"}', '{"state":"offline"}']


async def test_a_broker_that_was_never_there_is_waited_for(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path)
    bench = Bench(broker.address)
    bench.put(1, 2)
    async with bench.connected():
        await until(lambda: len(bench.downs) >= 2)
        assert "cannot be reached" in str(bench.downs[0])
        await broker.start()
        await outbox_empty(bench)
    await broker.kill()


RIGHTS = """topic readwrite ear/#
topic readwrite ringtrue/1/greywacke/bay-2/inspection/i2/#
topic readwrite ringtrue/1/greywacke/bay-2/status
topic read #
"""


async def test_a_result_that_the_broker_refuses_waits_is_told_and_holds_up_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("acquire.publisher.REFUSED_FIRST_S", 0.05)
    rights = tmp_path / "rights"
    rights.write_text(RIGHTS)
    async with mosquitto(tmp_path, ["allow_anonymous true", f"acl_file {rights}"]) as broker:
        bench = Bench(broker.address)
        with capture_logs() as logs:
            async with ear(broker.address) as heard, bench.connected():
                bench.put(1, 2)
                await heard.until_payload("i2/result")
                await until(lambda: "warnings" in json_of(heard.payloads("/status")[-1]))
                warned = heard.payloads("/status")[-1]
                assert [row.id for row in bench.outbox.rows] == [1]
                assert TOPICS.inspection_result("i1") in json_of(warned)["warnings"][0]
                rights.write_text(RIGHTS.replace("i2", "+"))
                assert broker.pid is not None
                os.kill(broker.pid, signal.SIGHUP)  # it reads its list again
                await heard.until_payload("i1/result")
                await outbox_empty(bench)
                await until(lambda: heard.payloads("/status")[-1] == '{"state":"online"}')
        said = [line for line in logs if line.get("topic") == TOPICS.inspection_result("i1")]
        assert [line["event"] for line in said] == [
            "the broker refuses a message", "the broker takes what it refused",
        ]  # fmt: skip
        assert "Not authorized" in said[0]["reason"]
        assert "access list" in said[0]["reason"]


def taken_more_than(bench: Bench, number: int) -> bool:
    return len(bench.commands) > number


async def test_no_more_commands_are_taken_than_can_be_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("acquire.publisher.REPLIES_MAX", 3)
    async with mosquitto(tmp_path) as broker:
        bench = Bench(broker.address)
        async with ear(broker.address) as heard, bench.connected() as publisher:
            await until_connected(publisher)
            for n in range(10):
                await speak(broker.address, TOPICS.command("end"), str(n))
            await until(lambda: len(bench.commands) >= 3)
            for n in range(10):
                await until(partial(taken_more_than, bench, n))
                assert len(bench.commands) <= n + 3
                publisher.reply(str(n), b"{}")
                await heard.until_payload(f"/reply/{n}")
    assert [payload for _, payload, _ in bench.commands] == [b"%d" % n for n in range(10)]
