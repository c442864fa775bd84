"""One suite for all manners, in virtual time: what a gauge's silence means, and when it is told."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Iterator
from typing import NamedTuple, TypeVar

import pytest

from config.profile import FreeRunning, KeyPress, LineKey, Manner, Requested
from contract.units import Unit
from drivers.contacts import WAIT_S
from drivers.manners import MISSES_TO_SILENCE, behaviour
from drivers.reading import Reading
from simulators.loop import VirtualLoop
from tests.acquire.hand_clock import HandClock
from tests.drivers.support import members

T = TypeVar("T")
MS = 1_000_000
READING = Reading("g", 0, 0, 190_000, Unit.NM)


class Row(NamedTuple):
    """silent_ms: after the last reading, or the opening; None: never. of_itself, request: as the protocol
    has them."""

    manner: Manner
    silent_ms: int | None
    of_itself: bool
    request: bytes | None


KINDS = {
    "free-running": Row(FreeRunning(kind="free-running", period_s=0.1), 300, True, None),
    "requested": Row(
        Requested(kind="requested", request="read\r", period_s=0.1, timeout_s=0.05), 250, False, b"read\r"
    ),
    # One whose answer may take longer than its period is asked again as soon as that time is over.
    "requested, slow": Row(
        Requested(kind="requested", request="r", period_s=0.05, timeout_s=0.1), 300, False, b"r"
    ),
    "key-press": Row(KeyPress(kind="key-press"), None, False, None),
    "modem-line": Row(LineKey(kind="modem-line", line="cts", timeout_s=0.3), None, True, None),
    "modem-line, asked": Row(
        LineKey(kind="modem-line", line="cts", request="r", timeout_s=0.3), None, False, b"r"
    ),
}
"""One row at least for each manner."""

every = pytest.mark.parametrize("row", KINDS.values(), ids=KINDS.keys())
SILENT = {name: row for name, row in KINDS.items() if row.silent_ms is not None}
some = pytest.mark.parametrize("row", SILENT.values(), ids=SILENT.keys())


@every
def test_a_manner_says_of_itself_what_its_behaviour_does(row: Row) -> None:
    assert behaviour(row.manner).of_itself == row.of_itself
    assert row.manner.request_bytes == behaviour(row.manner).request == row.request
    assert (row.manner.own_pace_s is not None) == (row.of_itself and not row.manner.by_hand)


TURNS_TO_REST = 12


class Open:
    """A line on which nothing is pressed."""

    cts = False


class Bench:
    """An open port, watched over in virtual time. speaks: its gauge answers all requests; answers_each:
    each so many-th."""

    def __init__(self, row: Row) -> None:
        self.clock = HandClock()
        self.loop = VirtualLoop(self.clock)
        self.ended: asyncio.Future[str] = self.loop.create_future()
        self.heard_ns = self.clock.monotonic_ns()
        self.is_silent = False
        self.told: list[str] = []
        self.told_ms: list[int] = []
        self.asked_ms: list[int] = []
        self.restarts = 0
        self.port = Open()
        self.speaks = False
        self.answers_each = 0
        self._began_ns = self.heard_ns
        self._timeout_s = behaviour(row.manner).timeout_s
        self.task = self.loop.create_task(behaviour(row.manner).watch(self))
        self.rest()

    @property
    def ms(self) -> int:
        return (self.clock.monotonic_ns() - self._began_ns) // MS

    def run_ms(self, duration_ms: int) -> None:
        self.loop.run_until_complete(self.loop.until(self.clock.now_ns + duration_ms * MS))
        self.rest()

    def rest(self) -> None:
        """Until all has been done that is to be done now."""

        async def turns() -> None:
            for _ in range(TURNS_TO_REST):
                await asyncio.sleep(0)

        self.loop.run_until_complete(turns())

    def hear(self) -> None:
        self.heard_ns = self.clock.monotonic_ns()
        self.is_silent = False

    async def aside(self, call: Callable[[], T]) -> T:
        """Looking at a line takes so long."""
        await asyncio.sleep(WAIT_S)
        return call()

    def now_ns(self) -> int:
        return self.clock.monotonic_ns()

    def ready(self, waiting_for: str) -> None:
        self.told.append(waiting_for)

    def missed(self, since: str) -> None:
        self.is_silent = True
        self.told.append(since)
        self.told_ms.append(self.ms)

    def restart(self) -> None:
        self.restarts += 1

    async def request(self) -> Reading | None:
        self.asked_ms.append(self.ms)
        if self.speaks or (self.answers_each and len(self.asked_ms) % self.answers_each == 0):
            self.hear()
            return READING
        await asyncio.wait({self.ended}, timeout=self._timeout_s)
        return None

    def close(self) -> None:
        self.task.cancel()
        self.loop.run_until_complete(asyncio.wait({self.task}))
        self.loop.close()


@pytest.fixture
def bench(row: Row, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    monkeypatch.setattr(time, "sleep", lambda _: None)  # between two looks
    bench = Bench(row)
    yield bench
    bench.close()


def test_every_kind_has_a_row() -> None:
    assert {type(row.manner) for row in KINDS.values()} == members(Manner)


@every
def test_what_it_is(row: Row) -> None:
    made = behaviour(row.manner)
    assert (made.of_itself, made.request) == (row.of_itself, row.request)


@every
def test_it_watches_until_the_port_ends_and_no_longer(row: Row, bench: Bench) -> None:
    bench.run_ms(1_000)
    assert not bench.task.done()
    bench.ended.set_result("it went away")
    bench.run_ms(round(WAIT_S * 1_000) if isinstance(row.manner, LineKey) else 0)  # it is looking just now
    assert bench.task.done()
    assert bench.task.exception() is None


@some
def test_silence_is_told_once_after_three_misses(row: Row, bench: Bench) -> None:
    assert row.silent_ms is not None
    bench.run_ms(row.silent_ms - 1)
    assert bench.told == []
    bench.run_ms(1)
    assert bench.told == ["for 0.3 s" if row.of_itself else f"to {MISSES_TO_SILENCE} requests"]
    bench.run_ms(2_000)
    assert len(bench.told) == 1


@some
def test_a_gauge_that_misses_two_at_most_is_never_silent(row: Row, bench: Bench) -> None:
    bench.answers_each = 3
    for _ in range(6):
        bench.run_ms(299)
        bench.hear()
    assert bench.told == []


@some
def test_after_silence_it_may_speak_and_be_silent_again(row: Row, bench: Bench) -> None:
    bench.run_ms(1_000)
    bench.speaks = True
    bench.hear()
    bench.run_ms(200)
    bench.speaks = False
    bench.hear()
    bench.run_ms(1_000)
    assert len(bench.told) == 2
    assert bench.told_ms[1] > 1_200


@pytest.mark.parametrize("row", [KINDS[name] for name in KINDS if KINDS[name].manner.by_hand])
def test_a_gauge_with_a_key_is_ready_at_once_and_never_silent(row: Row, bench: Bench) -> None:
    assert bench.told == ["waiting for its key"]
    bench.run_ms(2_000)
    assert (bench.told, bench.is_silent, bench.asked_ms) == (["waiting for its key"], False, [])


@pytest.mark.parametrize("row", [KINDS["free-running"]])
def test_silence_of_one_that_sends_by_itself_ends_the_frame_that_was_coming(row: Row, bench: Bench) -> None:
    bench.run_ms(299)
    assert bench.restarts == 0
    bench.run_ms(2_000)
    assert bench.restarts == 1
    assert bench.asked_ms == []


@pytest.mark.parametrize(("row", "answered_ms"), [(KINDS["requested"], 100), (KINDS["requested, slow"], 50)])
def test_a_request_is_sent_again_answered_or_not(row: Row, bench: Bench, answered_ms: int) -> None:
    bench.run_ms(350)
    assert bench.asked_ms == [0, 100, 200, 300]
    bench.speaks = True
    bench.run_ms(650)
    assert bench.asked_ms[-1] - bench.asked_ms[-2] == answered_ms
