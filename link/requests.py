"""Commands to a bay, each with its reply: the one way in which any of us asks for something."""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from pydantic import ValidationError

from contract.commands import CODES, COMMAND_BYTES_MAX, READABLE_BYTES_MAX
from contract.states import StatusMessage
from contract.topics import Topics
from contract.wire import encode
from link.connection import Connection
from link.errors import LinkError, NothingHeardError, RefusedError
from link.tasks import end

# Seconds that a reply may take; a journal commit and two hops over a broker take well under one.
REPLY_MAX_S = 15.0
# Seconds after which a request is sent again under its own id: a daemon that was not listening yet hears
# it then, one that was answers again and does it once.
ASK_AGAIN_S = 2.0


class Requests:
    """What one connection asks of a bay. Whoever reads the connection tells `hear` of each message.

    status: what the bay said last of itself, as far as that was heard.
    """

    def __init__(self, connection: Connection, topics: Topics, operator: str) -> None:
        self._connection = connection
        self._topics = topics
        self._operator = operator
        self._waiting: dict[str, asyncio.Future[bytes]] = {}
        self.status: StatusMessage | None = None

    def hear(self, topic: str, said: bytes) -> None:
        """The bay's status, and replies to what is asked here; anything else is none of it."""
        if topic == self._topics.status:
            self.status = StatusMessage.model_validate_json(said)
            return
        waiting = self._waiting.get(topic)
        if waiting is not None and not waiting.done():
            waiting.set_result(said)

    async def ask(
        self,
        name: str,
        arguments: Mapping[str, Any],
        *,
        request: str | None = None,
        most_s: float = REPLY_MAX_S,
    ) -> bytes:
        """Send one command; its reply as it came. Raises NothingHeardError, LinkError or PublishRefusedError;
        RefusedError where it is too long for a daemon to find out who asks.

        request: its id, where one that was not answered is asked again: it is done once at most.
        """
        request = request or uuid.uuid4().hex
        payload = encode({"id": request, "operator": self._operator, **arguments})
        if len(payload) > READABLE_BYTES_MAX:  # nobody would answer, and a walk asks until somebody does
            text = f"{name}: at most {COMMAND_BYTES_MAX} bytes expected, {len(payload)} were to go"
            raise RefusedError(name, "oversized", f"{text}; {CODES['oversized']}")
        answer: asyncio.Future[bytes] = asyncio.get_running_loop().create_future()
        topic = self._topics.reply(request)
        self._waiting[topic] = answer
        try:
            async with asyncio.timeout(most_s):
                while not answer.done():
                    await self._connection.publish(self._topics.command(name), payload, qos=1)
                    await asyncio.wait([answer], timeout=ASK_AGAIN_S)
        except TimeoutError:
            raise NothingHeardError(f"no reply to `{name}` within {most_s:g} s: {self._why()}") from None
        finally:
            del self._waiting[topic]
        return answer.result()

    def _why(self) -> str:
        if self.status is not None and self.status.warnings:
            return "; ".join([*self.status.warnings, "the command waits until then too"])
        return (
            f"the daemon of {self._topics.site}/{self._topics.bay} is not there, or the broker lets this "
            "user send no commands: give the credential of one who may"
        )


async def ask_alone(
    connection: Connection,
    topics: Topics,
    operator: str,
    name: str,
    arguments: Mapping[str, Any],
    *,
    request: str,
    most_s: float,
) -> bytes:
    """One command over a connection that serves nothing else; its reply as it came.

    Raises as `Requests.ask`, and LinkError at once where the bay says that its daemon does not run.
    """
    requests = Requests(connection, topics, operator)
    for topic in (topics.status, topics.reply(request)):
        await connection.subscribe(topic)
    asking = asyncio.ensure_future(requests.ask(name, arguments, request=request, most_s=most_s))
    listening = asyncio.ensure_future(_listen(connection, requests))
    try:
        await asyncio.wait((asking, listening), return_when=asyncio.FIRST_COMPLETED)
        if asking.done():
            return asking.result()
        listening.result()
        raise LinkError(f"the daemon of {topics.site}/{topics.bay} is not running")
    finally:
        await end(asking, listening)


async def _listen(connection: Connection, requests: Requests) -> None:
    """Until it is said that the bay's daemon does not run, or the connection ends."""
    while requests.status is None or requests.status.state != "offline":
        message = await connection.next_message()
        if message.payload:  # an empty one clears what was retained
            with suppress(ValidationError):  # of a newer daemon's
                requests.hear(message.topic, message.payload)
