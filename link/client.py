"""A client of one bay: hears what the daemon says, sends commands and waits for their replies."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from contract.commands import ReplyMessage
from contract.document import decode
from contract.events import EventMessage
from contract.live import Live
from contract.methods import MethodMessage
from contract.result import Result
from contract.states import GaugeStateMessage, StatusMessage
from contract.topics import Topics
from link.connection import Connection
from link.errors import NothingHeardError, RefusedError
from link.requests import Requests


class BayClient:
    """What the bay last said, and a way to ask it for something.

    on_live: told of each live message. on_event: of each event of an inspection. on_news: after
    each message. `subscribe()` first, then `listen()` as a task beside.
    """

    def __init__(
        self,
        connection: Connection,
        topics: Topics,
        operator: str,
        on_live: Callable[[Live], None],
        on_event: Callable[[EventMessage], None] | None = None,
        on_news: Callable[[], None] = lambda: None,
    ) -> None:
        self._connection = connection
        self._topics = topics
        self._on_live = on_live
        self._on_event = on_event
        self._on_news = on_news
        self._news = asyncio.Condition()
        self._requests = Requests(connection, topics, operator)
        self.gauges: dict[str, GaugeStateMessage] = {}
        self.result: Result | None = None
        self.method: MethodMessage | None = None

    @property
    def status(self) -> StatusMessage | None:
        """What the bay said last of itself."""
        return self._requests.status

    async def subscribe(self) -> None:
        """Ask the broker for all that is kept here."""
        topics = self._topics
        wanted = [topics.reply("+"), topics.status, topics.gauge_state("+"), topics.result, topics.method]
        if self._on_event is not None:
            wanted.append(topics.event("+"))
        for topic in (*wanted, topics.live):  # last: by then the rest of what is kept has been heard
            await self._connection.subscribe(topic)

    async def listen(self) -> None:
        """Take messages in, for ever."""
        while True:
            message = await self._connection.next_message()
            topics = self._topics
            may_clear = message.topic in (topics.method, topics.result) or topics.is_gauge_state(
                message.topic
            )
            if message.payload or may_clear:  # an empty one clears what was retained
                async with self._news:
                    self._take(message.topic, message.payload)
                    self._news.notify_all()
                self._on_news()

    async def command(self, name: str, /, *, request: str | None = None, **arguments: Any) -> dict[str, Any]:
        """Send one command; the keys of its reply. Raises RefusedError, and as `Requests.ask`.

        request: its id, where one that was not answered is asked again: it is done once at most.
        """
        said = await self._requests.ask(name, arguments, request=request)
        reply = ReplyMessage.model_validate_json(said)
        if reply.error is not None:
            raise RefusedError(name, reply.error.code, reply.error.message)
        return reply.model_dump()

    async def until(self, is_so: Callable[[], bool], most_s: float, what: str) -> None:
        """Wait until something is so, looking after each message. Raises NothingHeardError."""
        try:
            async with asyncio.timeout(most_s), self._news:
                await self._news.wait_for(is_so)
        except TimeoutError:
            raise NothingHeardError(f"{what} did not come within {most_s:.0f} s") from None

    def _take(self, topic: str, said: bytes) -> None:
        level = topic.removeprefix(self._topics.root).split("/")[1:]
        match level:
            case ["gauge", gauge, "state"] if not said:
                self.gauges.pop(gauge, None)
            case ["gauge", gauge, "state"]:
                self.gauges[gauge] = GaugeStateMessage.model_validate_json(said)
            case ["live"]:
                self._on_live(Live.model_validate_json(said))
            case ["result"]:
                self.result = None  # what cannot be read is not what was before
                self.result = decode(said) if said else None
            case ["method"]:
                self.method = MethodMessage.model_validate_json(said) if said else None
            case ["inspection", _, "event"] if self._on_event is not None:
                self._on_event(EventMessage.model_validate_json(said))
            case _:
                self._requests.hear(topic, said)
