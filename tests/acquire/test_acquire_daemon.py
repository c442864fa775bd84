"""The whole daemon: gauges on real sockets, a real broker, and clients that are not ours."""

from __future__ import annotations

import asyncio
import json
import os
import signal
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from config.bay import read_bay
from contract.topics import Topics
from link.address import BrokerAddress
from link.broker import Program
from tests.acquire.running_bay import Running
from tests.acquire.stand import Stand, stand
from tests.link.outside import (
    Cable,
    Ear,
    Mosquitto,
    ear,
    json_of,
    mosquitto,
    speak,
    until,
    until_listening,
)

pytestmark = pytest.mark.slow

TOPICS = Topics("greywacke", "bay-2")


@dataclass
class Technician:
    """Sends commands by mosquitto_pub and hears the replies."""

    address: BrokerAddress
    heard: Ear
    asked: int = 0

    async def ask(self, command: str, /, **arguments: Any) -> dict[str, Any]:
        self.asked += 1
        request = f"r{self.asked}"
        await speak(
            self.address, TOPICS.command(command), json.dumps({"id": request, "operator": "me", **arguments})
        )
        return json_of(await self.heard.until_payload(f"/reply/{request}"))

    async def done(self, command: str, /, **arguments: Any) -> dict[str, Any]:
        reply = await self.ask(command, **arguments)
        assert reply["ok"], reply
        return reply

    async def measure(self, bench: Stand, check: str) -> None:
        """One sweep that ends by itself."""
        await self.done("begin", check=check, gauge="indicator-1")
        await bench.turn()
        await self.event("sweep-ended")

    async def event(self, kind: str) -> dict[str, Any]:
        """Wait for an event of that kind."""
        await self.heard.until(lambda _: any(e["event"] == kind for e in self.events()))
        return next(e for e in reversed(self.events()) if e["event"] == kind)

    def events(self) -> list[dict[str, Any]]:
        return [json_of(payload) for payload in self.heard.payloads("/event")]

    async def results(self, at_least: int) -> list[dict[str, Any]]:
        await self.heard.until(lambda _: len(self.heard.payloads("i-1/result")) >= at_least)
        return [json_of(payload) for payload in self.heard.payloads("i-1/result")]


async def connected(heard: Ear, *gauges: str) -> None:
    for gauge in gauges or ("indicator-1", "encoder-1"):
        ending = f"{gauge}/state"
        await heard.until(partial(says_connected, ending))


def says_connected(ending: str, heard: list[tuple[str, bool, str]]) -> bool:
    payloads = [payload for topic, _, payload in heard if topic.endswith(ending)]
    return bool(payloads) and json_of(payloads[-1])["state"] == "connected"


@pytest.mark.parametrize("program", ["mosquitto", "iotcore"])
async def test_one_whole_inspection(program: Program, tmp_path: Path) -> None:
    async with stand() as bench:
        files = read_bay(bench.config(tmp_path, f'broker = "{program}"\nport = 0'), {})
        running = Running(files)
        async with running.up(), ear(running.address) as heard:
            me = Technician(running.address, heard)
            await connected(heard)
            await me.done(
                "open",
                inspection="i-1",
                engine="GQ-E-2207",
                damper="GQ-D-0815",
                scope="on-engine",
                hours_h=2950,
            )
            await me.measure(bench, "rim")
            bench.set_on_face()
            await me.measure(bench, "face")
            items = [{"item": item.id, "seen": "good"} for item in files.method.observed["visual"].item]
            await me.done("record", check="visual", items=items)
            await me.done("close", inspection="i-1")
            await me.done("sign", inspection="i-1", name="R. Example")
            await heard.until(lambda _: any('"signed"' in p for p in heard.payloads("i-1/result")))
            results = await me.results(1)
            async with ear(running.address) as late:
                kept = json_of(await late.until_payload("bay-2/result"))
                await late.until_payload("/status", '{"state":"online"}')
                await late.until_payload("/live")
                health = json_of(await late.until_payload("/health"))
            await until(lambda: bool(running.records) and running.records[-1] == results[-1])
        revisions = [result["revision"] for result in results]
        assert revisions == sorted(set(revisions))
        assert kept == results[-1] == running.records[-1]
        counts = health["gauges"]["indicator-1"]
        assert counts["frames"] == counts["readings"] + counts["rejected"]
        assert set(health["outbox"]) == {"mqtt", "records"}
        assert min(health["disk_free_bytes"], health["resident_bytes"]) > 10**6
        final = results[-1]
        assert (final["verdict"], final["state"], final["signed_by"]) == ("keep", "signed", "R. Example")
        assert final["checks"]["rim"]["tir_mm"] == pytest.approx(0.1, abs=0.005)
        assert running.records == [r for r in results if r in running.records]
        lives = [json_of(payload) for payload in heard.payloads("/live")]
        assert any(live["check"] == "rim" and (live["covered_deg"] or 0) > 180 for live in lives)
        readings = [json_of(payload) for payload in heard.payloads("indicator-1/reading")]
        assert len(readings) > 300
        assert all(set(r) - {"t_u_ns"} == {"seq", "t_ns", "value_mm"} for r in readings)
        kinds = [event["event"] for event in me.events()]
        assert kinds == [
            "opened", "sweep-begun", "sweep-ended", "sweep-begun", "sweep-ended", "observation",
            "closed", "signed",
        ]  # fmt: skip


@pytest.fixture
async def bay(tmp_path: Path) -> AsyncIterator[tuple[Running, Ear, Technician]]:
    """A bay without gauges plugged in, on mosquitto, with an ear and a technician."""
    running = Running(read_bay(Stand().config(tmp_path, "port = 0"), {}))
    async with running.up(), ear(running.address) as heard:
        yield running, heard, Technician(running.address, heard)


@pytest.mark.parametrize(
    ("name", "payload", "options", "code"),
    [
        ("open", b"{", (), "malformed"),
        ("open", b"\xff\x00", (), "malformed"),
        ("open", b'{"id":"x1","operator":"me"}', (), "malformed"),
        ("dance", b'{"id":"x1","operator":"me"}', (), "unknown-command"),
        ("end", b'{"id":"x1","operator":"me"}', (), "out-of-order"),
        ("begin", b'{"id":"x1","operator":"me","check":"rim","gauge":"indicator-1"}', (), "out-of-order"),
        ("open", b'{"id":"x1","operator":"me","engine":"' + b"e" * 100_000 + b'"}', (), "oversized"),
        ("open", b'{"id":"x1","operator":"me"}', ("-r",), "retained"),
    ],
)
async def test_a_bad_command_gets_one_reply_and_changes_nothing(
    name: str, payload: bytes, options: Sequence[str], code: str, bay: tuple[Running, Ear, Technician]
) -> None:
    running, heard, me = bay
    before = len(heard.payloads("/event"))
    replies = len([t for t, _, _ in heard.heard if "/reply/" in t])
    await speak(running.address, TOPICS.command(name), payload, *options)
    await heard.until(lambda h: len([t for t, _, _ in h if "/reply/" in t]) > replies)
    marker = await me.ask("abandon", inspection="none-such")
    assert marker["error"]["code"] == "no-such-inspection"
    found = [json_of(p) for t, _, p in heard.heard if "/reply/" in t][replies:-1]
    assert [reply["error"]["code"] for reply in found] == [code]
    assert found[0]["error"]["message"]
    assert len(heard.payloads("/event")) == before


def remote(bench: Stand, folder: Path, address: BrokerAddress, *more: str) -> Running:
    """A bay whose broker is one that exists."""
    return Running(read_bay(bench.config(folder, "\n".join([f'url = "{address.url}"', *more])), {}))


async def open_one(me: Technician) -> None:
    await me.done("open", inspection="i-1", engine="GQ-E-2207", damper="GQ-D-0815", scope="bench")


async def look(me: Technician, check: str, running: Running, seen: str = "good") -> None:
    rules = running.files.method.observed[check]  # type: ignore[index]  # it is there, or the test fails
    items = [
        {"item": rule.id, "seen": seen} | ({rule.figure: rule.least or 60} if rule.figure else {})
        for rule in rules.item
    ]
    await me.done("record", check=check, items=items)


async def test_over_tls_with_a_credential_at_a_separate_broker(secured: Mosquitto, tmp_path: Path) -> None:
    (tmp_path / "password").write_text("right\n")
    running = remote(
        Stand(), tmp_path, secured.address,
        'username = "bay-2"', 'password_file = "password"', 'ca_file = "ca.crt"',
    )  # fmt: skip
    async with ear(secured.address) as heard, running.up():
        me = Technician(secured.address, heard)
        await heard.until_payload("/status", '{"state":"online"}')
        await open_one(me)
        await look(me, "visual-bench", running, "bad")
        results = await me.results(2)
        assert results[-1]["verdict"] == "replace"
    assert heard.payloads("/status")[-1] == '{"state":"offline"}'


async def test_each_result_arrives_once_though_the_connection_comes_and_goes(tmp_path: Path) -> None:
    async with stand() as bench, mosquitto(tmp_path) as broker, Cable(broker.address) as cable:
        running = remote(bench, tmp_path, cable.address)
        async with ear(broker.address) as heard, running.up():
            me = Technician(broker.address, heard)
            await connected(heard)
            await me.done("open", inspection="i-1", engine="e", damper="d", scope="on-engine")
            await me.done("begin", check="rim", gauge="indicator-1")
            await me.results(1)
            await bench.turn(100)
            await cable.pull()
            await heard.until_payload("/status", '{"state":"offline"}')
            await bench.turn(270)  # the sweep ends without anybody hearing
            await until(lambda: len(running.records) == 2)
            assert len(heard.payloads("i-1/result")) == 1
            await cable.plug_in()
            await me.results(2)
            await me.done("begin", check="face", gauge="indicator-1")
            await me.done("cancel")
            await look(me, "visual", running)
            await me.done("close", inspection="i-1")
            results = await me.results(4)
            await until(lambda: len(running.records) >= len(results))
        assert [result["revision"] for result in results] == sorted({r["revision"] for r in results})
        assert [r for r in results if r in running.records] == results
        assert results[1]["checks"]["rim"]["outcome"] == "within"
        numbers = [event["seq"] for event in me.events()]
        assert numbers == sorted(set(numbers))
        assert [event["event"] for event in me.events()] == [
            "opened", "sweep-begun", "sweep-ended", "sweep-begun", "sweep-ended", "observation", "closed",
        ]  # fmt: skip


async def test_a_configured_broker_that_is_down_is_waited_for(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path)
    async with stand() as bench:
        running = remote(bench, tmp_path, broker.address)
        async with running.up():
            await broker.start()
            async with ear(broker.address) as heard:
                await connected(heard)
                await broker.kill()
                await broker.start()
            async with ear(broker.address) as again:
                await again.until_payload("/status", '{"state":"online"}')
                await connected(again)
    await broker.kill()


@pytest.mark.parametrize("program", ["mosquitto", "iotcore"])
async def test_a_built_in_broker_that_was_killed_comes_back_with_all_that_is_kept(
    program: Program, tmp_path: Path
) -> None:
    running = Running(read_bay(Stand().config(tmp_path, f'broker = "{program}"\nport = 0'), {}))
    async with running.up():
        async with ear(running.address) as heard:
            me = Technician(running.address, heard)
            await heard.until_payload("indicator-1/state")
            await open_one(me)
            (result,) = await me.results(1)
        address = running.address
        (pid,) = children_with(str(running.files.settings.mqtt.folder))
        os.kill(pid, signal.SIGKILL)
        await until(lambda: children_with(str(running.files.settings.mqtt.folder)) not in ([], [pid]))
        await until_listening(address)
        async with ear(address) as again:
            assert json_of(await again.until_payload("bay-2/result")) == result
            assert await again.until_payload("/status", '{"state":"online"}')
            assert json_of(await again.until_payload("indicator-1/state"))["state"] == "absent"
            me = Technician(address, again, asked=100)
            await look(me, "visual-bench", running)
            assert [r["revision"] for r in await me.results(1)] == [2]


def children_with(word: str) -> list[int]:
    """Our child processes that have this word in their command line."""
    children = Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()
    return [int(pid) for pid in children if word in Path(f"/proc/{pid}/cmdline").read_text()]


async def test_a_command_that_makes_the_daemon_fail_is_answered_and_forgotten(
    bay: tuple[Running, Ear, Technician], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr("acquire.bay.handlers.Handlers.handle", broken)
        reply = await bay[2].ask("end")
    assert reply["error"]["code"] == "failed"
    assert (await bay[2].ask("end"))["error"]["code"] == "out-of-order"


async def test_records_that_are_away_come_later_in_order(
    tmp_path: Path, bay: tuple[Running, Ear, Technician], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("acquire.daemon.RETRY_FIRST_S", 0.05)
    running, _, me = bay
    running.records_away = True
    await open_one(me)
    for at_least, check in enumerate(("visual-bench", "penetrant"), 1):
        await me.results(at_least)  # else two looks may be graded as one
        await look(me, check, running)
    results = await me.results(3)
    assert running.records == []
    running.records_away = False
    await until(lambda: len(running.records) == 3)
    assert running.records == results


async def test_an_inspection_opened_before_the_register_was_read_says_so(tmp_path: Path) -> None:
    async with stand() as bench:
        running = Running(read_bay(bench.config(tmp_path, "port = 0"), {}))
        running.register_away = True
        async with running.up(), ear(running.address) as heard:
            me = Technician(running.address, heard)
            said = {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine"}
            reply = await me.done("open", inspection="i-1", **said)
            assert "has not been read yet" in reply["warnings"][0]


async def test_an_opening_waits_for_the_moment_that_the_register_takes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("acquire.daemon.HEAD_START_S", 1.5)
    async with stand() as bench:
        running = Running(read_bay(bench.config(tmp_path, "port = 0"), {}))
        async with running.up(), ear(running.address) as heard:
            me = Technician(running.address, heard)
            said = {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine"}
            reply = await me.done("open", inspection="i-1", **said)
            assert running.register_read.is_set()
            assert "warnings" not in reply


async def test_gauges_come_go_and_come_back_within_two_seconds(tmp_path: Path) -> None:
    async with stand() as bench:
        await bench.unplug("indicator-1")
        running = Running(read_bay(bench.config(tmp_path, "port = 0"), {}))
        loop = asyncio.get_running_loop()
        async with running.up(), ear(running.address) as heard:
            me = Technician(running.address, heard)
            await connected(heard, "encoder-1")
            state = json_of(await heard.until_payload("indicator-1/state"))
            assert state["state"] == "absent"
            await me.done("open", inspection="i-1", engine="e", damper="d", scope="on-engine")
            refused = await me.ask("begin", check="rim", gauge="indicator-1")
            assert refused["error"]["code"] == "gauge-absent"
            plugged_s = loop.time()
            await bench.plug_in("indicator-1")
            await connected(heard, "indicator-1")
            assert loop.time() - plugged_s < 2
            await me.done("begin", check="rim", gauge="indicator-1")
            await bench.turn(120)
            pulled_s = loop.time()
            await bench.unplug("indicator-1")
            await heard.until(lambda _: json_of(heard.payloads("indicator-1/state")[-1])["state"] == "absent")
            assert loop.time() - pulled_s < 2
            await bench.turn(100)  # the crank goes on without the gauge
            await bench.plug_in("indicator-1")
            await connected(heard, "indicator-1")
            await bench.turn(200)
            assert (await me.event("sweep-ended"))["reason"] == "complete"
            rim = (await me.results(2))[-1]["checks"]["rim"]
        assert rim["outcome"] == "invalid"
        assert [event["event"] for event in me.events()] == [
            "opened", "sweep-begun", "gauge-away", "gauge-back", "sweep-ended",
        ]  # fmt: skip
