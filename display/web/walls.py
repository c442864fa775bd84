"""Walls: anybody may open one, so neither all of them nor those of one address may take all there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from display.web.feed import Feed, Patch, Watcher
from display.web.tries import network_of

MOST = 300
"""Streams at once before the wall is shown to no more: the bench has room yet."""
MOST_EACH = 40
"""Of them from one address."""


class Walls:
    """All that are open."""

    def __init__(self, feed: Feed) -> None:
        self._feed = feed
        self._open: Counter[str] = Counter()

    def why_not(self, address: str) -> str | None:
        """Why one more from there is not shown; None where it is."""
        if self._feed.pages >= MOST:
            return "Too many pages are open: close one."
        if self._open[network_of(address)] >= MOST_EACH:
            return f"{MOST_EACH} walls are open from this address already: close one."
        return None

    @contextmanager
    def watching(self, address: str, only: str | None, shown: Callable[[Patch], Patch]) -> Iterator[Watcher]:
        """While it is shown. only, shown: as in Watcher."""
        of = network_of(address)
        self._open[of] += 1
        try:
            with self._feed.watch(only, shown) as watcher:
                yield watcher
        finally:
            self._open[of] -= 1
            if self._open[of] == 0:
                del self._open[of]
