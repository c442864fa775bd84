"""The whole daemon where something could be lost: a burst of commands, records that vanish."""

from __future__ import annotations

import asyncio
import json
import sqlite3
import sys
from pathlib import Path

import pytest

from acquire.errors import NotTakenError
from acquire.journal.file import Batch, write_batch
from acquire.journal.sealer import Sealer
from config.bay import read_bay
from contract.topics import Topics
from link.address import BrokerAddress
from link.broker import Program, built_in_address
from link.bursts import connect
from tests.acquire.running_bay import Running
from tests.acquire.stand import Stand
from tests.link.outside import ear, json_of, speak, until

pytestmark = pytest.mark.slow

TOPICS = Topics("greywacke", "bay-2")


@pytest.mark.parametrize("program", ["mosquitto", "iotcore"])
async def test_every_command_of_a_burst_is_answered(program: Program, tmp_path: Path) -> None:
    number = 2500  # more than twice what a broker by itself, and what the bay, keeps waiting
    running = Running(read_bay(Stand().config(tmp_path, f'broker = "{program}"\nport = 0'), {}))
    async with running.up(), connect(running.address) as client:
        await client.subscribe(TOPICS.status)
        await client.next_message()
        await client.subscribe(TOPICS.reply("+"))
        answered: list[str] = []

        async def hear() -> None:
            while len(answered) < number:
                message = await client.next_message()
                if "/reply/" in message.topic:
                    answered.append(message.topic.rpartition("/")[2])

        hearing = asyncio.ensure_future(hear())
        for n in range(number):
            said = json.dumps({"id": f"r{n}", "operator": "me"}).encode()
            await client.publish(TOPICS.command("end"), said, qos=1)
        async with asyncio.timeout(30):
            await hearing
    assert answered == [f"r{n}" for n in range(number)]


async def test_records_that_vanished_are_filled_again_from_the_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("acquire.records.RECORDS_LOOK_S", 0.05)
    running = Running(read_bay(Stand().config(tmp_path, "port = 0"), {}))
    async with running.up(), ear(running.address) as heard:
        opening = {"id": "r1", "operator": "me", "inspection": "i-1", "engine": "e", "damper": "d"}
        await speak(running.address, TOPICS.command("open"), json.dumps({**opening, "scope": "bench"}))
        result = json_of(await heard.until_payload("i-1/result"))
        await until(lambda: running.records == [result])
        running.records.clear()
        running.wiped = True
        # More than once where its first look at them comes just then: they keep each once.
        await until(lambda: result in running.records)
        assert all(record == result for record in running.records)


async def test_a_first_command_on_a_full_disk_is_told_the_reason_and_done_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = [True]

    def write(db: sqlite3.Connection, batch: Batch, sealer: Sealer | None) -> None:
        if full[0] and batch.events:
            error = sqlite3.OperationalError("database or disk is full")
            error.sqlite_errorcode = sqlite3.SQLITE_FULL
            raise error
        write_batch(db, batch, sealer)

    monkeypatch.setattr("acquire.journal.writer.write_batch", write)
    config = Stand().config(tmp_path, "port = 0")
    async with Running(read_bay(config, {})).up(), ear(built_in(config)) as heard:
        await heard.until_payload("/status", '{"state":"online"}')
        sending = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "ringtrue", "send", "open", "engine=e", "damper=d", "scope=bench",
            "inspection=i-1", "--timeout", "2", "--config", str(config), stderr=asyncio.subprocess.PIPE,
        )  # fmt: skip
        _, said = await sending.communicate()
        assert sending.returncode == 3
        assert "no reply to `open` within 2 s" in said.decode()
        assert "the disk is full: free some space" in said.decode()
        full[0] = False
        await heard.until_payload("i-1/event")
        await until(lambda: heard.payloads("/status")[-1] == '{"state":"online"}')


def built_in(config: Path) -> BrokerAddress:
    return built_in_address(read_bay(config, {}).settings.mqtt)


async def test_records_that_lack_results_since_before_the_start_are_filled_again(tmp_path: Path) -> None:
    """The daemon that made them anew was killed before it had filled them."""
    files = read_bay(Stand().config(tmp_path, "port = 0"), {})
    first = Running(files)
    async with first.up(), ear(first.address) as heard:
        opening = {"id": "r1", "operator": "me", "inspection": "i-1", "engine": "e", "damper": "d"}
        await speak(first.address, TOPICS.command("open"), json.dumps({**opening, "scope": "bench"}))
        result = json_of(await heard.until_payload("i-1/result"))
        await until(lambda: first.records == [result])
    second = Running(files)
    async with second.up():
        await until(lambda: second.records == [result])


async def test_a_result_that_the_records_never_take_is_told_to_every_display(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another bay chose the same name first: what this one found would be on record nowhere, unsaid."""
    running = Running(read_bay(Stand().config(tmp_path, "port = 0"), {}))
    why = "records: i-1 revision 1 is stored already with other content"

    async def refuse(document: bytes) -> None:
        if json.loads(document)["inspection"] == "i-1":
            raise NotTakenError(why)
        running.records.append(json.loads(document))

    monkeypatch.setattr(running, "deliver", refuse)
    async with running.up(), ear(running.address) as heard:

        async def ask(name: str, **said: str) -> None:
            request = f"{name}-{said['inspection']}"
            payload = json.dumps({"id": request, "operator": "me", **said})
            await speak(running.address, TOPICS.command(name), payload)
            assert json_of(await heard.until_payload(f"/reply/{request}"))["ok"]

        said = {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "bench"}
        await ask("open", inspection="i-1", **said)
        await ask("abandon", inspection="i-1")
        await heard.until(lambda _: json_of(heard.payloads("/status")[-1]).get("warnings") == [why])
        await ask("open", inspection="i-2", **said)
        await until(lambda: [one["inspection"] for one in running.records] == ["i-2"])
