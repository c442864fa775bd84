"""What every bay of a broker says, as the pages have it: the newest of each, and nothing that is over."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from contract.document import as_data, decode
from contract.health import HealthMessage
from contract.live import Live
from contract.methods import MethodMessage
from contract.states import GaugeStateMessage, StatusMessage
from contract.topics import TOPIC_ROOT, Topics
from contract.wire import Message, encode
from display.web.trace import Trace, beside_of
from link.address import BrokerAddress
from link.connection import Connect, Connection, stay_connected
from link.display import connect
from link.errors import BrokerError, LinkError

BAYS_MAX = 200
"""Bays of one broker that are shown; beyond that somebody publishes what is none."""
GAUGES_MAX = 50
"""Gauges of one bay that are shown."""
COUNT_MAX = 2**63 - 1
"""The highest count that is believed."""
OFFLINE = "the bay's daemon is not running"
UNSAID = "nothing is heard of this bay's daemon yet"
"""Until its status is heard on the connection that there is: what was heard before may be long over."""

Patch = dict[str, Any]


class Watcher:
    """One page: what has changed of each bay since it was last told, the newest value alone. only: one bay,
    SITE/NAME. shown: makes of a patch what the page is to have of it."""

    def __init__(self, only: str | None = None, shown: Callable[[Patch], Patch] = dict) -> None:
        self._only, self._shown = only, shown
        self.is_over = False
        """Whether nothing will be told any more."""
        self._news = asyncio.Event()
        self._patches: dict[str, Patch] = {}
        self._broker: list[str | None] = []

    def tell(self, bay: str, patch: Patch) -> None:
        """Something of a bay is another."""
        if self._only in (None, bay):
            self._patches.setdefault(bay, {}).update(self._shown(patch))
            self._news.set()

    def tell_broker(self, away: str | None) -> None:
        """The broker is away, or there again."""
        self._broker = [away]
        self._news.set()

    def nudge(self) -> None:
        """There may be news beside."""
        self._news.set()

    def end(self) -> None:
        """Nothing will be told any more."""
        self.is_over = True
        self._news.set()

    async def wait(self, most_s: float) -> bool:
        """Until there is news; False where none came so long."""
        try:
            async with asyncio.timeout(most_s):
                await self._news.wait()
        except TimeoutError:
            return False
        return True

    def take(self) -> tuple[list[str | None], dict[str, Patch]]:
        """All of it."""
        self._news.clear()
        broker, patches = self._broker, self._patches
        self._broker, self._patches = [], {}
        return broker, patches


@dataclass(slots=True)
class Bay:
    """What one bay was last heard to say, as JSON has it."""

    away: str | None = UNSAID
    status: dict[str, Any] | None = None
    gauges: dict[str, Any] = field(default_factory=dict)
    live: dict[str, Any] | None = None
    result: dict[str, Any] | None = None
    method: dict[str, Any] | None = None
    trace: Trace = field(default_factory=Trace)
    second: Trace = field(default_factory=Trace)
    """Of the sweep that runs beside."""
    health: HealthMessage | None = None
    """What it counts of itself, which no page shows."""
    counted_s: float = 0.0
    """When that was heard, by the feed's clock."""

    def forget(self) -> Patch:
        """What is live of it may be live no more; what it says of that by now is to be heard."""
        self.away, self.status, self.live, self.health, self.method = UNSAID, None, None, None, None
        self.gauges.clear()
        self.trace.lose()
        self.second.lose()
        return {"away": self.away, "status": None, "live": None, "gauges": {}, "method": None}

    def whole(self) -> Patch:
        """All of it, for a page that has just come."""
        return {
            "away": self.away,
            "status": self.status,
            "gauges": dict(self.gauges),
            "live": self.live,
            "result": self.result,
            "method": self.method,
            "trace": self.trace.told(),
            "second": self.second.told(),
        }


class Feed:
    """Run `run` as a task. address: asked before each attempt."""

    def __init__(
        self,
        address: Callable[[], BrokerAddress],
        *,
        connect: Connect[Connection] = connect,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self.now_s = now_s
        self._address = address
        self._connect = connect
        self._away: str | None = "connecting"
        self._bays: dict[str, Bay] = {}
        self._watchers: set[Watcher] = set()
        self._is_over = False

    @property
    def away(self) -> str | None:
        """Why nothing is heard of the broker; None while it is there."""
        return self._away

    @property
    def bays(self) -> Mapping[str, Bay]:
        """What each bay, SITE/NAME, was last heard to say."""
        return self._bays

    @property
    def pages(self) -> int:
        """How many are told."""
        return len(self._watchers)

    def end(self) -> None:
        """No page is told anything any more."""
        self._is_over = True
        for watcher in self._watchers:
            watcher.end()

    @contextmanager
    def watch(self, only: str | None = None, shown: Callable[[Patch], Patch] = dict) -> Iterator[Watcher]:
        """A page, which is told of all that there is at once; only, shown: as in Watcher."""
        watcher = Watcher(only, shown)
        if self._is_over:
            watcher.end()
        watcher.tell_broker(self._away)
        for name, bay in self._bays.items():
            watcher.tell(name, bay.whole())
        self._watchers.add(watcher)
        try:
            yield watcher
        finally:
            self._watchers.discard(watcher)

    async def run(self) -> None:
        """For ever: on a new connection whenever one is lost."""

        def address() -> BrokerAddress:
            try:
                return self._address()
            except BrokerError as error:  # a daemon that is not there may come
                raise LinkError(str(error)) from None

        await stay_connected(address, self._session, on_down=self._down, connect=self._connect)

    def _down(self, error: LinkError) -> None:
        self._set_away(str(error))

    def _set_away(self, away: str | None) -> None:
        if self._away != away:
            self._away = away
            for watcher in self._watchers:
                watcher.tell_broker(away)

    async def _session(self, connection: Connection) -> None:
        for name in self._bays:
            # What the broker kept is told anew; what it no longer knows is not live because it once was.
            self._tell(name, self._bays[name].forget())
        every = Topics("+", "+")
        topics = every.status, every.gauge_state("+"), every.result, every.live, every.health, every.method
        for topic in topics:
            await connection.subscribe(topic)
        self._set_away(None)
        while True:
            message = await connection.next_message()
            self.hear(message.topic, message.payload)

    def _tell(self, bay: str, patch: Patch) -> None:
        for watcher in self._watchers:
            watcher.tell(bay, patch)

    def hear(self, topic: str, payload: bytes) -> None:
        """One message; what is none of a bay's is passed over. Where one cannot be read, as a newer daemon's,
        what stood there before is so no longer."""
        match topic.removeprefix(f"{TOPIC_ROOT}/").split("/"):
            case [site, name, *rest] if rest:
                of = f"{site}/{name}"
            case _:
                return
        bay = self._bays.get(of) or Bay()
        if of not in self._bays and len(self._bays) >= BAYS_MAX:
            return
        try:
            patch = _taken(bay, rest, payload)
        except ValueError:  # pydantic's ValidationError is one
            patch = _cleared(bay, rest)
        if rest == ["health"]:
            bay.counted_s = self.now_s()
        if patch or bay.health is not None:
            self._bays[of] = bay
        if patch:
            self._tell(of, patch)


def _taken(bay: Bay, level: list[str], payload: bytes) -> Patch:
    """Take a message in; what is another by it. Raises ValueError, and then all is as it was."""
    if not payload:
        return _cleared(bay, level)
    match level:
        case ["status"]:
            status = StatusMessage.model_validate_json(payload)
            bay.status = status.model_dump(mode="json")
            bay.away = None if status.state == "online" else OFFLINE
            return {"status": bay.status, "away": bay.away}
        case ["gauge", gauge, "state"] if gauge in bay.gauges or len(bay.gauges) < GAUGES_MAX:
            bay.gauges[gauge] = _finite(GaugeStateMessage.model_validate_json(payload))
            return {"gauges": dict(bay.gauges)}
        case ["result"]:
            bay.result = as_data(decode(payload))
            return {"result": bay.result}
        case ["method"]:
            bay.method = MethodMessage.model_validate_json(payload).model_dump(mode="json")
            return {"method": bay.method}
        case ["live"]:
            live = Live.model_validate_json(payload)
            bay.live = _finite(live)
            anew, second_anew = bay.trace.take(live), bay.second.take(beside_of(live))
            return (
                {"live": bay.live}
                | ({"trace": bay.trace.told()} if anew else {})
                | ({"second": bay.second.told()} if second_anew else {})
            )
        case ["health"]:
            bay.health = _counted(HealthMessage.model_validate_json(payload))
            return {}
        case _:
            return {}


def _cleared(bay: Bay, level: list[str]) -> Patch:
    """An empty message takes back what was retained there (MQTT 3.1.1, 3.3.1.3): it is so no longer."""
    match level:
        case ["status"] if bay.status is not None:
            bay.away, bay.status = UNSAID, None
            return {"status": None, "away": bay.away}
        case ["gauge", gauge, "state"] if gauge in bay.gauges:
            del bay.gauges[gauge]
            return {"gauges": dict(bay.gauges)}
        case ["result"] if bay.result is not None:
            bay.result = None
            return {"result": None}
        case ["method"] if bay.method is not None:
            bay.method = None
            return {"method": None}
        case ["live"] if bay.live is not None:
            bay.live = None
            bay.trace.lose()
            bay.second.lose()
            return {"live": None}
        case ["health"]:
            bay.health = None
            return {}
        case _:
            return {}


def _counted(health: HealthMessage) -> HealthMessage:
    """As it is. Raises ValueError where a number is none that can be counted: whoever asks for the metrics
    would be told of no bay at all."""
    said = _finite(health)
    parts = [said, *said["gauges"].values(), *said["outbox"].values()]
    numbers = [value for part in parts for value in part.values() if isinstance(value, int | float)]
    if len(parts) > 2 * GAUGES_MAX or not all(0 <= number <= COUNT_MAX for number in numbers):
        raise ValueError("no count")
    return health


def _finite(message: Message) -> dict[str, Any]:
    """As data. Raises ValueError for a figure that JSON has no word for: a browser would read none of it."""
    said = message.model_dump(mode="json")
    encode(said)
    return said
