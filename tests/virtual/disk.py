"""The journal's disk on virtual time: SQLite's own file, written when its turn comes, full at times, and the
place where a daemon is killed: just before a commit or just after it."""

from __future__ import annotations

import asyncio
import contextlib
import random
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from acquire.journal.thread import GATHER_S
from acquire.journal.writer import Journal, Trouble

# Seconds that a commit takes at least and at most, from when it is asked for.
COMMIT_S = (0.0005, 0.03)
# Readings that may wait for a disk that is full: few, so that some find no room.
WAITING_MAX = 60
RETRY_S = 0.5
# Tries of a disk that is full when the daemon ends.
LAST_TRIES = 3
_NO_MORE, _PLENTY = 1, 2**30


@dataclass
class VirtualDisk:
    """commit_s: how long a commit takes, least and most.

    kill: called just before (False) or just after (True) the commits whose numbers `kills` names."""

    rng: random.Random
    kills: dict[int, bool]
    kill: Callable[[], None] = lambda: None
    full: bool = False
    commit_s: tuple[float, float] = COMMIT_S
    commits: int = 0
    _writing: VirtualWriting | None = None
    _db: sqlite3.Connection | None = None

    def open_journal(
        self, path: Path, *, on_messages: Callable[[], None], on_trouble: Callable[[Trouble | None], None]
    ) -> Journal:
        """For a daemon."""
        return Journal(
            path,
            on_messages=on_messages,
            on_trouble=on_trouble,
            waiting_max=WAITING_MAX,
            retry_s=RETRY_S,
            prepare=self._prepare,
            start=self._start,
        )

    def fill(self, full: bool) -> None:
        """Let it be full, or not."""
        self.full = full
        if self._db is not None:
            self._limit(self._db)

    def drop(self) -> None:
        """The daemon that writes is dead: nothing of it is written any more."""
        self._db = None
        if self._writing is not None:
            self._writing.dead = True

    def _start(self, commit: Callable[[], bool], ended: Callable[[], None], retry_s: float) -> VirtualWriting:
        self._writing = VirtualWriting(self, commit, ended, retry_s)
        return self._writing

    def _prepare(self, db: sqlite3.Connection) -> None:
        db.execute("PRAGMA synchronous = OFF")  # what survives a power cut is SQLite's to prove
        self._db = db
        self._limit(db)

    def _limit(self, db: sqlite3.Connection) -> None:
        # SQLite takes no limit below what the file has: only what needs a new page fails, as on a disk.
        with contextlib.suppress(sqlite3.ProgrammingError):  # closed after a failure: the next is prepared
            db.execute(f"PRAGMA max_page_count = {_NO_MORE if self.full else _PLENTY}")


class VirtualWriting:
    """Calls `commit` from the loop, where the thread would."""

    def __init__(
        self, disk: VirtualDisk, commit: Callable[[], bool], ended: Callable[[], None], retry_s: float
    ) -> None:
        self._disk, self._commit, self._ended, self._retry_s = disk, commit, ended, retry_s
        self._loop = asyncio.get_running_loop()
        self._timer: asyncio.TimerHandle | None = None
        self._is_retrying = self._again = False
        self.dead = False

    def wake(self, *, urgent: bool) -> None:
        if self._is_retrying:
            self._again = True
            return
        after_s = self._disk.rng.uniform(*self._disk.commit_s) + (0.0 if urgent else GATHER_S)
        if self._timer is not None:
            if self._timer.when() <= self._loop.time() + after_s:
                return
            self._timer.cancel()
        self._timer = self._loop.call_later(after_s, self._go)

    def close(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        tries = 0 if self.dead else LAST_TRIES
        while tries and not self._commit():
            tries -= 1
        if tries:
            self._commit()  # what came while a commit was tried again
        self.dead = True
        self._ended()

    def _go(self) -> None:
        disk, self._timer = self._disk, None
        if self.dead:
            return
        disk.commits += 1
        after = disk.kills.get(disk.commits)
        if after is False:
            disk.kill()
            return
        is_done = self._commit()
        if after is True:
            disk.kill()
        elif not is_done:
            self._is_retrying = True
            self._timer = self._loop.call_later(self._retry_s, self._go)
        elif self._is_retrying:
            self._is_retrying = False
            if self._again:
                self._again = False
                self.wake(urgent=True)
