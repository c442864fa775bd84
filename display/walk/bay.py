"""The bay as this screen hears it and asks it, over lost connections and restarts of the daemon."""

from __future__ import annotations

import asyncio
import random
import uuid
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any

from pydantic import ValidationError

from contract.events import EventMessage
from contract.lengths import LengthUnit
from contract.live import Live
from contract.methods import MethodMessage
from contract.result import Result
from contract.states import GaugeStateMessage
from contract.told import live_in, result_in
from contract.topics import Topics
from display.walk.view import Ended, View
from display.words import ENGLISH, Text, Words
from link.address import BrokerAddress
from link.client import BayClient
from link.connection import Connect, Connection, stay_connected
from link.display import connect
from link.errors import BrokerError, LinkError, NothingHeardError
from link.tasks import end

# Seconds that the result may take to hold what a command changed; then the page goes on without.
SETTLE_MAX_S = 5.0
CONNECTING = Text("connecting")
OFFLINE = Text("the bay's daemon is not running")
UNHEARD = Text("the broker knows nothing of this bay yet: is its daemon running?")


class BayAtHand:
    """Run `run` as a task. One command at a time: who asks waits until it is answered, however long the bay
    is away, as there is nobody else to ask; under one id it is done once at most.

    address: asked before each attempt. on_news: told whenever `view` may be another.
    """

    def __init__(
        self,
        topics: Topics,
        operator: str,
        address: Callable[[], BrokerAddress],
        *,
        unit: LengthUnit,
        words: Words = ENGLISH,
        now_s: Callable[[], float],
        on_news: Callable[[], None],
        connect: Connect[Connection] = connect,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self._topics = topics
        self._operator = operator
        self._address = address
        self.unit = unit
        self.words = words
        self._now_s = now_s
        self._on_news = on_news
        self._connect = connect
        self._chance = chance
        self._client: BayClient | None = None
        self._is_up = asyncio.Event()
        self._away: str | None = CONNECTING
        self._listening: BayClient
        self._live: Live | None = None
        self._live_at_s = now_s()
        self._live_is_new = False
        self._result: Result | None = None
        self._gauges: Mapping[str, GaugeStateMessage] = {}
        self._method: MethodMessage | None = None
        self._warnings: tuple[str, ...] = ()
        self._begun = ""
        self._sweeps: dict[object, str] = {}
        self._heard_seq = 0
        self._ended_at_s = now_s()
        self._ended: Ended | None = None
        self._ended_by: str | None = None
        self._asking: tuple[str, float] | None = None

    def view(self) -> View:
        """What the bay says now."""
        now_s = self._now_s()
        name, since_s = self._asking or (None, now_s)
        return View(
            bay=f"{self._topics.site}/{self._topics.bay}",
            live=None if self._live is None else live_in(self._live, self.unit),
            result=None if self._result is None else result_in(self._result, self.unit),
            gauges=self._gauges,
            method=self._method,
            warnings=self._warnings,
            away=self._away,
            live_s=now_s - self._live_at_s,
            ended=self._ended,
            ended_s=now_s - self._ended_at_s,
            ended_by=self._ended_by,
            asking=name,
            asking_s=now_s - since_s,
            operator=self._operator,
            unit=self.unit,
            words=self.words,
        )

    # -- hearing

    async def run(self) -> None:
        """For ever: on a new connection whenever one is lost."""

        def address() -> BrokerAddress:
            try:
                return self._address()
            except BrokerError as err:  # a daemon that is not there may come
                raise LinkError(str(err)) from None

        await stay_connected(
            address, self._session, on_down=self._down, connect=self._connect, chance=self._chance
        )

    async def _session(self, connection: Connection) -> None:
        self._live_is_new, self._ended = False, None
        client = BayClient(
            connection, self._topics, self._operator, self._hear_live, self._hear_event, self._heard
        )
        listening = asyncio.ensure_future(self._listen(client))
        try:
            subscribing = asyncio.ensure_future(client.subscribe())
            await asyncio.wait((listening, subscribing), return_when=asyncio.FIRST_COMPLETED)
            if listening.done():
                await end(subscribing)
                listening.result()
            await subscribing
            self._client = client
            self._is_up.set()
            if client.status is None:
                self._away = UNHEARD
                self._on_news()
            await listening
        finally:
            self._let_go(client)
            await end(listening)

    async def _listen(self, client: BayClient) -> None:
        while True:
            self._listening = client
            try:
                await client.listen()
            except ValidationError:  # of a newer daemon's
                self._heard()

    def _let_go(self, client: BayClient) -> None:
        if self._client is client:
            self._client = None
            self._is_up.clear()

    def _down(self, error: LinkError) -> None:
        self._away = str(error)
        self._gauges = {}
        self._on_news()

    def _hear_live(self, live: Live) -> None:
        before = self._live.check if self._live is not None and self._live_is_new else None
        if before is not None and live.check is None and self._ended is None:
            # Its event comes once it is on the disk; where it came first, it says more.
            self._ended = self._just_ended(before, "ended", None)
        self._live_is_new = True
        self._live, self._live_at_s = live, self._now_s()
        self._begun = live.check or self._begun

    def _hear_event(self, event: EventMessage) -> None:
        if event.seq <= self._heard_seq:  # at QoS 1 one may come twice, then after what came of it
            return
        self._heard_seq = event.seq
        more = event.model_extra or {}
        if event.event == "sweep-begun":
            self._begun, self._ended = str(more.get("check", "")), None
            self._sweeps[event.seq] = self._begun
        elif event.event == "sweep-ended":
            check = self._sweeps.pop(more.get("sweep"), self._begun)
            self._ended = self._just_ended(check, str(more.get("reason")), event.operator)
        elif event.event == "opened":
            self._ended = self._ended_by = None
        elif event.event in ("closed", "abandoned"):
            self._ended_by = event.operator

    def _just_ended(self, check: str, reason: str, operator: str | None) -> Ended:
        self._ended_at_s = self._now_s()
        return Ended(check, reason, operator, None if self._result is None else self._result.revision)

    def _heard(self) -> None:
        """Take over what the client holds, once it has heard all that is kept: live comes last."""
        client = self._listening
        if not self._live_is_new or client.status is None:
            return
        is_online = client.status.state == "online"
        self._away = None if is_online else OFFLINE
        if not is_online:
            self._heard_seq = 0  # its journal may be another when it comes back
        self._warnings = client.status.warnings
        self._gauges = dict(client.gauges) if is_online else {}
        self._result, self._method = client.result, client.method
        self._on_news()

    # -- asking

    async def ask(self, name: str, arguments: Mapping[str, Any], *, settles: bool = False) -> dict[str, Any]:
        """Send one command and wait for its reply. settles: and until the result holds it.

        Raises RefusedError.
        """
        request = uuid.uuid4().hex
        self._asking = name, self._now_s()
        self._on_news()
        try:
            before = self._live, self._result
            reply = await self._ask(name, arguments, request)
            await self._settle(name, *before, settles=settles)
            return reply
        finally:
            self._asking = None
            self._on_news()

    async def _ask(self, name: str, arguments: Mapping[str, Any], request: str) -> dict[str, Any]:
        while True:
            await self._is_up.wait()
            client = self._client
            if client is None:
                continue
            try:
                return await client.command(name, request=request, **arguments)
            except NothingHeardError:
                continue  # the daemon may come back, and answers then
            except LinkError:
                self._let_go(client)

    async def _settle(self, name: str, live: Live | None, result: Result | None, *, settles: bool) -> None:
        """Wait until the bay tells everybody of it: a page that is not true any more is pressed again."""
        client = self._client

        def is_told() -> bool:
            now = self._live or Live()
            match name:
                case "begin":
                    told = now.check is not None and self._live is not live
                case "end" | "cancel":
                    told = now.check is None
                case "open":
                    told = now.inspection is not None
                case "close" | "abandon":
                    told = now.inspection is None
                case "mark" | "time":
                    told = self._live is not live
                case _:
                    told = True
            return told and not (settles and self._result == result)

        if client is not None:
            with suppress(NothingHeardError):
                await client.until(is_told, SETTLE_MAX_S, f"what came of `{name}`")
