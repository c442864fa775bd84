"""The whole daemon: gauges on real sockets, a real broker, and clients that are not ours."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from acquire.broker import Program, built_in_address
from acquire.clock import RealClock
from acquire.daemon import Daemon
from acquire.messages import Topics
from acquire.mqtt import BrokerAddress
from config.bay import BayFiles, read_bay
from tests.acquire.outside import Ear, ear, json_of, speak, until
from tests.acquire.stand import Stand, stand

pytestmark = pytest.mark.slow

TOPICS = Topics("greywacke", "bay-2")
VISUAL = ("leak", "dents", "rubbing", "wobble", "paint")


@dataclass
class Running:
    """A daemon that runs, and the records it kept."""

    files: BayFiles
    records: list[dict[str, Any]] = field(default_factory=list)
    records_away: bool = False

    async def deliver(self, document: bytes) -> None:
        if self.records_away:
            raise OSError("the database is away")
        self.records.append(json.loads(document))

    @property
    def address(self) -> BrokerAddress:
        return built_in_address(self.files.settings.mqtt)

    @asynccontextmanager
    async def up(self) -> AsyncIterator[None]:
        stop = asyncio.Event()
        daemon = Daemon(self.files, RealClock(), deliver_record=self.deliver, software="test")
        running = asyncio.ensure_future(daemon.run(stop))
        try:
            if self.files.settings.mqtt.built_in:
                url = self.files.settings.mqtt.folder / "url"
                await until(lambda: url.exists() or running.done())
            yield
        finally:
            stop.set()
            await running


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
            await me.measure(bench, "face")
            items = [{"item": item.id, "seen": "good"} for item in files.method.observed["visual"].item]
            await me.done("record", check="visual", items=items)
            await me.done("close", inspection="i-1")
            await me.done("sign", inspection="i-1", name="A. Person")
            await heard.until(lambda _: any('"signed"' in p for p in heard.payloads("i-1/result")))
            results = await me.results(1)
            async with ear(running.address) as late:
                kept = json_of(await late.until_payload("bay-2/result"))
                await late.until_payload("/status", '{"state":"online"}')
                await late.until_payload("/live")
            await until(lambda: bool(running.records) and running.records[-1] == results[-1])
        revisions = [result["revision"] for result in results]
        assert revisions == sorted(set(revisions))
        assert kept == results[-1] == running.records[-1]
        final = results[-1]
        assert (final["verdict"], final["state"], final["signed_by"]) == ("keep", "signed", "A. Person")
        assert final["checks"]["rim"]["tir_mm"] == pytest.approx(0.2, abs=0.003)
        assert running.records == [r for r in results if r in running.records]
        lives = [json_of(payload) for payload in heard.payloads("/live")]
        assert any(live["check"] == "rim" and (live["covered_deg"] or 0) > 180 for live in lives)
        readings = [json_of(payload) for payload in heard.payloads("indicator-1/reading")]
        assert len(readings) > 300
        assert all(set(r) == {"seq", "t_ns", "value_mm"} for r in readings)
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
