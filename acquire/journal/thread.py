"""When the journal is written: by a thread of its own, what comes within a moment together."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Protocol

# Seconds for which readings are gathered before they are committed together: the promise is 100 ms,
# the rest is for the commit itself.
GATHER_S = 0.08
# Seconds that closing waits for what cannot be written.
CLOSE_S = 5.0


class Writing(Protocol):
    """Calls a journal's `commit` when there is something to be written, and again while it fails."""

    def wake(self, *, urgent: bool) -> None:
        """Something waits: to be written within 100 ms, or at once. From any thread; never waits."""

    def close(self) -> None:
        """Write what waits, with a few seconds' patience; afterwards `commit` is not called again."""


StartWriting = Callable[[Callable[[], bool], Callable[[], None], float], Writing]
"""commit: writes what waits, all of it or nothing; False where it must be tried again, which is after so
many seconds (the third). ended: called once, after the last commit."""


class WriterThread:
    """One thread; it alone calls `commit` and `ended`."""

    def __init__(self, commit: Callable[[], bool], ended: Callable[[], None], retry_s: float) -> None:
        self._commit, self._ended, self._retry_s = commit, ended, retry_s
        self._wake, self._urgent, self._stop = threading.Event(), threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    def wake(self, *, urgent: bool) -> None:
        if urgent:
            self._urgent.set()
        self._wake.set()

    def close(self) -> None:
        self._stop.set()
        self.wake(urgent=True)
        self._thread.join(CLOSE_S + 1)

    def _run(self) -> None:
        while True:
            self._wake.wait()
            self._wake.clear()
            if not self._urgent.wait(GATHER_S):
                pass  # nobody was in a hurry: all that came meanwhile goes together
            self._urgent.clear()
            if not self._until_done():
                break
            if self._stop.is_set() and not self._wake.is_set():
                break
        self._ended()

    def _until_done(self) -> bool:
        """Try until it is written; False where closing ends the tries."""
        tries_left = round(CLOSE_S / self._retry_s)
        while not self._commit():
            if self._stop.is_set():
                tries_left -= 1
                if tries_left <= 0:
                    return False
                threading.Event().wait(self._retry_s)
            else:
                self._stop.wait(self._retry_s)
        return True
