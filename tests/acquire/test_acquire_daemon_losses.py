"""The whole daemon where something could be lost: a burst of commands, records that vanish."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest

from acquire.broker import Program
from acquire.messages import Topics
from acquire.mqtt import connect
from config.bay import read_bay
from tests.acquire.outside import ear, json_of, speak, until
from tests.acquire.running_bay import Running
from tests.acquire.stand import Stand

pytestmark = pytest.mark.slow

TOPICS = Topics("greywacke", "bay-2")


@pytest.mark.parametrize("program", ["mosquitto", "iotcore"])
async def test_every_command_of_a_burst_is_answered(program: Program, tmp_path: Path) -> None:
    number = 5000
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
    monkeypatch.setattr("acquire.daemon.RECORDS_LOOK_S", 0.05)
    answers = [False]
    running = Running(read_bay(Stand().config(tmp_path, "port = 0"), {}))

    async def records_new() -> bool:
        return answers.pop() if answers else False

    running.records_new = records_new
    async with running.up(), ear(running.address) as heard:
        opening = {"id": "r1", "operator": "me", "inspection": "i-1", "engine": "e", "damper": "d"}
        await speak(running.address, TOPICS.command("open"), json.dumps({**opening, "scope": "bench"}))
        result = json_of(await heard.until_payload("i-1/result"))
        await until(lambda: running.records == [result])
        running.records.clear()
        answers.append(True)
        await until(lambda: running.records == [result])
