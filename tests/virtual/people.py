"""Who sends commands: ids of their own, sent again until answered, and every one kept for the reckoning."""

from __future__ import annotations

import asyncio
import json
from dataclasses import dataclass, field
from typing import Any

from acquire.bay.asked import fingerprint, read_payload
from contract.wire import encode
from tests.virtual.world import VirtualWorld

# Seconds after which a command without an answer is sent again, and how often at most.
AGAIN_S, TRIES = 2.0, 40
# Refusals that are not remembered: the same command, sent again, may be done.
PASSING = ("disk-full", "journal-failed")
# Seconds on the way, at most: of most, and of those that come late or a second time.
HOP_S, LATE_S = 0.02, 4.0


@dataclass
class Asked:
    """One command: what was sent, and all replies to its id."""

    name: str
    operator: str
    payload: bytes
    replies: list[dict[str, Any]] = field(default_factory=list)
    given_up: bool = False

    def hear(self, payload: bytes) -> None:
        """A reply to this id; what somebody else asked under it is not of this command."""
        reply = json.loads(payload)
        mark = fingerprint(self.name, read_payload(self.payload)[1])
        if reply.get("asked", mark) == mark:
            self.replies.append(reply)


class People:
    """All who are at the bay; the network between them and the daemon doubles and delays as planned."""

    def __init__(self, world: VirtualWorld) -> None:
        self._world = world
        self._rng = world.rng("network")
        self.asked: dict[str, Asked] = {}
        self._news = asyncio.Event()
        self.ended_sweeps = 0
        self.results: dict[str, dict[str, Any]] = {}
        """The latest that was heard of each inspection."""
        world.broker.on_message = self._hear

    def send(self, request: str, name: str, payload: bytes, *, retain: bool = False) -> None:
        """Hand a command to the network."""
        plan, rng = self._world.plan, self._rng
        times = 1 + (rng.random() < plan.doubled)
        for _ in range(times):
            after_s = rng.uniform(0.0, LATE_S if rng.random() < plan.late else HOP_S)
            self._world.loop.call_later(after_s, self._arrive, request, name, payload, retain)

    def _arrive(self, request: str, name: str, payload: bytes, retain: bool) -> None:
        if self._world.broker.up:
            self._world.broker.send(name, payload, retain=retain)

    def _hear(self, topic: str, payload: bytes) -> None:
        if "/reply/" in topic:
            asked = self.asked.get(topic.rpartition("/")[2])
            if asked is not None:
                asked.hear(payload)
                self._news.set()
        elif topic.endswith("/event") and b'"event":"sweep-ended"' in payload:
            self.ended_sweeps += 1
        elif "/inspection/" in topic and topic.endswith("/result"):
            self.results[topic.split("/")[-2]] = json.loads(payload)

    async def answer_to(self, asked: Asked, within_s: float) -> dict[str, Any] | None:
        """The next reply to a command, None where none comes in time."""
        seen = len(asked.replies)
        loop = self._world.loop
        until_s = loop.time() + within_s
        while len(asked.replies) == seen:
            self._news.clear()
            left_s = until_s - loop.time()
            if left_s < 1e-6:
                return None
            waiting = asyncio.ensure_future(self._news.wait())
            await asyncio.wait([waiting], timeout=left_s)
            if not waiting.done():
                waiting.cancel()
                await asyncio.wait([waiting])
        return asked.replies[-1]


class Person:
    """Somebody with a display of the bay."""

    def __init__(self, world: VirtualWorld, people: People, name: str) -> None:
        self.world, self.people, self.name = world, people, name
        self.rng = world.rng(name)
        self._count = 0

    def say(self, name: str, /, request: str = "", **arguments: Any) -> Asked:
        """Send a command and wait for nothing."""
        self._count += 1
        request = request or f"{self.name}-{self._count}"
        operator = f"R. Example {request}"
        payload = encode({"id": request, "operator": operator, **arguments})
        asked = self.people.asked.setdefault(request, Asked(name, operator, payload))
        self.people.send(request, name, payload)
        return asked

    async def ask(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        """A command, sent until it is answered for good; its reply, {} where nobody ever answers."""
        asked = self.say(name, **arguments)
        request = f"{self.name}-{self._count}"
        for _ in range(TRIES):
            reply = await self.people.answer_to(asked, AGAIN_S)
            if reply is not None and (reply["ok"] or reply["error"]["code"] not in PASSING):
                return reply
            if reply is not None:
                await asyncio.sleep(self.rng.uniform(0.2, AGAIN_S))
            self.people.send(request, name, asked.payload)
        asked.given_up = True
        return {}

    async def wait(self, seconds: float) -> None:
        """Do nothing for a while."""
        await asyncio.sleep(seconds)
