"""The journal: what happened, in SQLite, written beside the loop; the truth that results are made of.

Callers never wait for the disk: they append, and ask when it is safe (`committed`). All that waits is
committed together, at most 100 ms after the first of it came; what a command caused goes at once. What
one append hands over (events, their messages, the reply) is in one transaction: all of it or nothing.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import sqlite3
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

import structlog

from acquire.errors import JournalError
from acquire.journal.events import Event
from acquire.journal.file import (
    Batch,
    damaged,
    identity_of,
    lock_beside,
    open_writer,
    write_batch,
)
from acquire.journal.outgoing import CHAIN, Destination, Outgoing, Resend
from acquire.journal.reader import JournalReader, OutboxRow
from acquire.journal.sealer import Sealer
from acquire.journal.thread import StartWriting, WriterThread
from drivers.reading import Reading

# Seconds between two tries while the disk is full or failing.
RETRY_S = 0.5
# Readings kept in memory while they cannot be written: half an hour of two gauges at 50 a second.
WAITING_MAX = 200_000
# What SQLite can hold in a column.
INT64_MAX = 2**63 - 1

Announce = Callable[[Event], Sequence[Outgoing]]
E = TypeVar("E", bound=Event)


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why the journal cannot be written now. code: `disk-full` or `journal-failed`."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class JournalStatistics:
    """Counts since it was opened."""

    committed: int
    batches: int
    waiting: int
    dropped: int
    failures: int


class Journal(JournalReader):
    """The one writer of a journal file; makes it where there is none.

    on_messages: told from the writer's thread after each commit of which there may be messages. on_trouble:
    likewise, when it begins to fail (why) and when it works again (None). start: what calls for the commits.
    Raises JournalError where the file cannot be used, or another daemon uses it.
    """

    def __init__(
        self,
        path: Path,
        *,
        on_messages: Callable[[], None] = lambda: None,
        on_trouble: Callable[[Trouble | None], None] = lambda _: None,
        waiting_max: int = WAITING_MAX,
        retry_s: float = RETRY_S,
        prepare: Callable[[sqlite3.Connection], None] = lambda _: None,
        start: StartWriting = WriterThread,
    ) -> None:
        self._lock_file = lock_beside(path)
        self._log = structlog.get_logger().bind(journal=str(path))
        self._prepare = prepare
        self._sealer: Sealer | None = None
        self._is_loaded = False
        with contextlib.ExitStack() as undo:
            undo.callback(os.close, self._lock_file)
            try:
                writer = open_writer(path)
                undo.callback(writer.close)
                prepare(writer)
                super().__init__(path)
                undo.callback(super().close)
                (self._batch_number,) = self._select("SELECT number FROM batch", ())[0]
                last = self._select(
                    "SELECT max(coalesce((SELECT max(seq) FROM event), 0),"
                    " coalesce((SELECT max(seq) FROM sample), 0))", ()
                )  # fmt: skip
            except sqlite3.Error as error:
                raise damaged(path, error) from error
            undo.pop_all()
        self._writer: sqlite3.Connection | None = writer
        self._file = identity_of(path)
        self._on_messages, self._on_trouble = on_messages, on_trouble
        self._waiting_max = waiting_max
        self._lock = threading.Lock()
        self._closing = False
        self._seq = self._committed = int(last[0][0])
        self._waiting = Batch()
        self._flying: Batch | None = None
        self._in_flight = 0
        self._flown: set[int] = set()
        self._turn = self._turn_done = 0
        self._waiters: list[tuple[int, int, asyncio.AbstractEventLoop, asyncio.Future[None]]] = []
        self._trouble: Trouble | None = None
        self._dropped = self._failures = self._rows = self._batches = 0
        self._writing = start(self._commit_waiting, self._let_go, retry_s)

    # -- appending: from the loop's thread, never waits for the disk

    def append_sample(self, sweep: int, reading: Reading) -> int:
        """Keep one reading of the sweep that began at seq `sweep`; its seq, or 0 where it was dropped.

        Dropped, and counted, where too many wait for a disk that is full, or where the value is none
        that a gauge can mean (over 63 bits).
        """
        if not -INT64_MAX <= reading.value <= INT64_MAX:
            self._dropped += 1
            return 0
        with self._lock:
            samples = self._waiting.samples
            if len(samples) + self._in_flight >= self._waiting_max:
                self._dropped += 1
                return 0
            self._seq = seq = self._seq + 1
            samples.append((seq, sweep, reading))
            first = len(samples) == 1
        if first:
            self._writing.wake(urgent=False)
        return seq

    def append(
        self, *events: E, announce: Announce = lambda _: (), reply: tuple[str, bytes] | None = None
    ) -> list[E]:
        """Keep events, what `announce` makes of each, and the reply to a request, all at once or not at all.

        The events come back with their seq. Committed without delay.
        """
        with self._lock:
            stamped = []
            for event in events:
                self._seq += 1
                stamped.append(replace(event, seq=self._seq))
            messages = [message for event in stamped for message in announce(event)]
            batch = self._waiting
            batch.events.extend(stamped)
            batch.messages.extend(messages)
            if reply is not None:
                batch.replies.append(reply)
        self._hurry()
        return stamped

    def append_reply(self, request: str, payload: bytes) -> int:
        """Keep the reply to a request that caused no event; the seq, which no event has, that is committed
        when it is."""
        with self._lock:
            self._seq = seq = self._seq + 1
            self._waiting.replies.append((request, payload))
        self._hurry()
        return seq

    def put_result(
        self, inspection: str, revision: int, document: bytes, utc: str, messages: Sequence[Outgoing] = ()
    ) -> None:
        """Keep a result and the messages that carry it, once: a revision that is there already stays as it
        is, and goes out no second time."""
        with self._lock:
            self._waiting.results.append(((inspection, revision, utc, document), messages))
        self._hurry()

    def seal_with(self, sealer: Sealer) -> None:
        """Have results put into the bay's chain from now on; those without a record in it once they are
        taken up."""
        self._sealer = sealer

    def take_up(self, *seen: bytes) -> None:
        """Have the chain begun where it is not, and results that have no record in it taken up. seen:
        checkpoints found under the bay's name, which may tell that this journal is an old copy."""
        with self._lock:
            self._waiting.take_up = True
            self._waiting.seen.extend(seen)
        self._hurry()

    def resend(
        self, since: str, before: str, after: str, *, chain: str = CHAIN, reply: tuple[str, bytes]
    ) -> int:
        """Put every result from `since` on (RFC 3339) into the outbox again, for the records and for MQTT
        under the topic `before` + inspection + `after`, and the chain's records from there on under `chain`;
        with the reply, all at once or not at all.

        The seq, which no event has, that is committed when they are.
        """
        with self._lock:
            self._seq = seq = self._seq + 1
            self._waiting.resends += [Resend("mqtt", since, before, after, chain), Resend("records", since)]
            self._waiting.replies.append(reply)
        self._hurry()
        return seq

    def refill_records(self) -> None:
        """Put every result into the outbox for the records again."""
        with self._lock:
            self._waiting.resends.append(Resend("records"))
        self._hurry()

    def pending(
        self, destination: Destination, limit: int = 100, without: frozenset[int] = frozenset()
    ) -> list[OutboxRow]:
        """The oldest committed messages for a destination that are not done, in order; without those ids."""
        with self._lock:
            flown = without | self._flown  # before looking: what is done may be deleted meanwhile
        return self.waiting(destination, limit, flown)

    def done(self, row_id: int) -> None:
        """A message was delivered. Before this is committed, a crash delivers it once more."""
        with self._lock:
            self._flown.add(row_id)
            self._waiting.done.append(row_id)
        self._writing.wake(urgent=False)

    # -- when is it safe

    @property
    def trouble(self) -> Trouble | None:
        """Why it cannot be written now; None where it can."""
        return self._trouble

    def statistics(self) -> JournalStatistics:
        """A snapshot."""
        with self._lock:
            waiting = len(self._waiting.samples) + len(self._waiting.events) + self._in_flight
            return JournalStatistics(self._rows, self._batches, waiting, self._dropped, self._failures)

    async def committed(self, seq: int) -> None:
        """Until the event `seq`, and all before it, are on the disk. JournalError where it closes first."""
        await self._until(seq, 0)

    async def flushed(self) -> None:
        """Until all that was handed over so far is on the disk. JournalError where it closes first."""
        with self._lock:
            turn = self._turn + (0 if self._waiting.is_empty else 1)
        self._hurry()
        await self._until(0, turn)

    async def _until(self, seq: int, turn: int) -> None:
        loop = asyncio.get_running_loop()
        with self._lock:
            if self._committed >= seq and self._turn_done >= turn:
                return
            if self._closing:
                raise JournalError(f"{self.path}: closed before everything was written")
            future: asyncio.Future[None] = loop.create_future()
            self._waiters.append((seq, turn, loop, future))
        await future

    def close(self) -> None:
        """Write what waits, then let go of the file; waits a few seconds at most for a disk that is full."""
        self._closing = True
        self._writing.close()
        with self._lock:
            left = len(self._waiting.samples) + len(self._waiting.events) + self._in_flight
            waiters, self._waiters = self._waiters, []
        if left:
            self._log.error("journal closed with events unwritten", lost=left)
        for _, _, loop, future in waiters:
            error = JournalError(f"{self.path}: closed before everything was written")
            with contextlib.suppress(RuntimeError):  # its loop may be gone
                loop.call_soon_threadsafe(_fail, future, error)
        super().close()
        os.close(self._lock_file)

    def _hurry(self) -> None:
        self._writing.wake(urgent=True)

    # -- in the writer's thread

    def _commit_waiting(self) -> bool:
        """Write what waits, all of it or nothing; False where it could not be, and is to be tried again."""
        batch = self._flying
        if batch is None:
            with self._lock:
                if self._waiting.is_empty:
                    return True
                batch, self._waiting = self._waiting, Batch()
                self._turn += 1
                self._batch_number += 1
                batch.seq, batch.number = self._seq, self._batch_number
                self._in_flight = len(batch.samples) + len(batch.events)
            self._flying = batch
        try:
            self._write(batch)
        except Exception as error:  # whatever it is, what waits is kept and tried again
            self._failed(error)
            return False
        self._flying = None
        self._succeeded(batch)
        return True

    def _let_go(self) -> None:
        if self._writer is not None:
            self._writer.close()

    def _write(self, batch: Batch) -> None:
        if identity_of(self.path) != self._file:  # SQLite writes on, to what no start will ever find
            raise JournalError("its file was taken away or exchanged: put back the one that was there")
        if self._writer is None:
            self._writer = open_writer(self.path)
            self._prepare(self._writer)
            # A commit that seemed to fail may have reached the disk after all.
            if self._writer.execute("SELECT number FROM batch").fetchone()[0] == batch.number:
                return
        sealer = self._sealer
        if sealer is not None and not self._is_loaded:
            sealer.load(self._writer)
            self._is_loaded = True
        write_batch(self._writer, batch, sealer)

    def _succeeded(self, batch: Batch) -> None:
        had = self._trouble
        with self._lock:
            self._committed, self._turn_done = batch.seq, self._turn
            self._flown.difference_update(batch.done)
            self._rows += self._in_flight
            self._in_flight = 0
            self._batches += 1
            self._trouble = None
            ready = [w for w in self._waiters if w[0] <= self._committed and w[1] <= self._turn_done]
            self._waiters = [w for w in self._waiters if w not in ready]
        for _, _, loop, future in ready:
            with contextlib.suppress(RuntimeError):  # its loop may be gone
                loop.call_soon_threadsafe(_finish, future)
        if had is not None:
            self._log.info("journal written again", rows=len(batch.samples) + len(batch.events))
            self._tell(None)
        if not batch.may_send:
            return
        try:
            self._on_messages()
        except Exception:
            self._log.exception("journal's listener failed")

    def _failed(self, error: Exception) -> None:
        self._failures += 1
        if self._writer is not None:
            with contextlib.suppress(sqlite3.Error):
                self._writer.close()
            self._writer = None
        self._is_loaded = False
        full = getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL
        what = "the disk is full: free some space" if full else f"{error}: check the disk"
        what = str(error) if isinstance(error, JournalError) else what
        text = f"{self.path} cannot be written, {what}; the inspection is kept in memory until then"
        trouble = Trouble("disk-full" if full else "journal-failed", text)
        if trouble != self._trouble:
            self._trouble = trouble
            self._log.error("journal cannot be written", reason=str(error), code=trouble.code)
            self._tell(trouble)

    def _tell(self, trouble: Trouble | None) -> None:
        try:
            self._on_trouble(trouble)
        except Exception:
            self._log.exception("journal's listener failed")


def _finish(future: asyncio.Future[None]) -> None:
    if not future.done():
        future.set_result(None)


def _fail(future: asyncio.Future[None], error: JournalError) -> None:
    if not future.done():
        future.set_exception(error)
