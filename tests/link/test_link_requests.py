"""What asks a bay for something: again until it is answered, and done once; or why no answer came."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest

from contract.commands import READABLE_BYTES_MAX
from contract.topics import Topics
from link import requests
from link.client import BayClient
from link.connection import Connection, Received
from link.errors import LinkError, NothingHeardError, RefusedError
from link.requests import ask_alone
from link.tasks import end

TOPICS = Topics("greywacke", "bay-2")


class Line(Connection):
    """A connection in memory. answers_from: the how-manieth of the same request the daemon hears."""

    def __init__(self, status: dict[str, Any] | None, answers_from: int | None = None) -> None:
        super().__init__(asyncio.get_running_loop().create_future())
        self.published: list[tuple[str, dict[str, Any]]] = []
        self.subscribed: list[str] = []
        self.was_asked = asyncio.Event()
        self._status, self._answers_from = status, answers_from

    async def publish(self, topic: str, payload: bytes, *, qos: int = 0, retain: bool = False) -> None:
        said = json.loads(payload)
        self.published.append((topic, said))
        self.was_asked.set()
        if len(self.published) == self._answers_from:
            self.say(TOPICS.reply("another"), {"id": "another", "ok": False})
            self.say(TOPICS.reply(said["id"]), {"id": said["id"], "ok": True})
            self.say(TOPICS.reply(said["id"]), {"id": said["id"], "ok": True, "again": 1})

    async def subscribe(self, topic: str, *, qos: int = 1) -> None:
        self.subscribed.append(topic)
        if topic == TOPICS.status and self._status is not None:
            self.say(topic, self._status)

    async def close(self) -> None:
        self._lost.set_result("")

    def say(self, topic: str, said: dict[str, Any]) -> None:
        self._arrived(Received(topic, json.dumps(said).encode(), retained=False), 0, 1)

    def _taken(self, mid: int, qos: int) -> None:
        pass


async def asked(line: Line, most_s: float = 30.0) -> bytes:
    return await ask_alone(
        line, TOPICS, "R. Example", "end", {"remark": "x"}, request="r-1", most_s=most_s
    )  # fmt: skip


@pytest.fixture(autouse=True)
def _asks_again_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(requests, "ASK_AGAIN_S", 0.01)


async def test_it_is_asked_again_under_its_own_id_until_the_answer_to_it_comes() -> None:
    line = Line({"state": "online"}, answers_from=3)
    assert json.loads(await asked(line)) == {"id": "r-1", "ok": True}
    said = {"id": "r-1", "operator": "R. Example", "remark": "x"}
    assert line.published == [(TOPICS.command("end"), said)] * 3
    assert line.subscribed == [TOPICS.status, TOPICS.reply("r-1")]


async def test_a_daemon_that_does_not_run_is_told_at_once() -> None:
    with pytest.raises(LinkError, match=r"^the daemon of greywacke/bay-2 is not running$"):
        await asked(Line({"state": "offline"}))


async def test_what_the_bay_warns_of_is_why_no_answer_came() -> None:
    with pytest.raises(NothingHeardError) as caught:
        await asked(Line({"state": "online", "warnings": ["the disk is full"]}), most_s=0.05)
    assert str(caught.value) == (
        "no reply to `end` within 0.05 s: the disk is full; the command waits until then too"
    )


async def test_a_bay_that_says_nothing_is_not_there_or_does_not_hear_us() -> None:
    with pytest.raises(NothingHeardError, match=r"is not there, or the broker lets this user send no comm"):
        await asked(Line(None), most_s=0.05)


async def test_a_status_that_we_do_not_know_is_passed_over() -> None:
    line = Line({"state": "between"}, answers_from=1)
    assert json.loads(await asked(line))["ok"] is True


async def test_a_connection_that_ends_is_told_as_that() -> None:
    line = Line({"state": "online"})
    asking = asyncio.ensure_future(asked(line))
    await line.was_asked.wait()
    await line.close()
    with pytest.raises(LinkError, match="the connection to the broker ended"):
        await asking


async def test_a_command_that_no_daemon_would_answer_is_not_sent() -> None:
    """So long that not even its id is looked for: it was asked for, again and again, for ever."""
    line = Line({"state": "online"})
    with pytest.raises(RefusedError, match="at most 16384 bytes expected, 131") as refused:
        await ask_alone(
            line, TOPICS, "R. Example", "record", {"note": "x" * READABLE_BYTES_MAX}, request="r", most_s=9.0
        )
    assert refused.value.code == "oversized"
    assert line.published == []


async def test_a_gauge_whose_state_was_cleared_is_none_of_the_bay_s() -> None:
    line = Line(None)
    client = BayClient(line, TOPICS, "R. Example", lambda _live: None)
    listening = asyncio.ensure_future(client.listen())
    there = {"state": "connected", "reason": "", "since": "2026-11-02T08:00:00Z"}
    for name in ("indicator-1", "indicator-9"):
        line.say(TOPICS.gauge_state(name), there)
    line._arrived(Received(TOPICS.gauge_state("indicator-9"), b"", retained=False), 0, 1)
    await client.until(lambda: list(client.gauges) == ["indicator-1"], 30.0, "its going")
    await end(listening)
