"""Commands that come in the moment after a start, before the register was first read."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable

# Longest that an opening waits: the register is there by then, or cannot be read now, which is said.
MOMENT_S = 3.0


class Opening:
    """Hands commands on in the order in which they came; from the first `open` on, once the register was
    read: an inspection that is opened a moment before would lack for good what it says.

    do: given name, payload and whether it was retained, as `take` is.
    """

    def __init__(self, do: Callable[[str, bytes, bool], None], moment_s: float = MOMENT_S) -> None:
        self._do = do
        self._moment_s = moment_s
        self._held: deque[tuple[str, bytes, bool]] = deque()
        self._is_free = False

    def take(self, name: str, payload: bytes, retained: bool) -> None:
        """A command, now or in a moment."""
        if self._is_free or (name != "open" and not self._held):
            self._do(name, payload, retained)
            return
        if not self._held:
            asyncio.get_running_loop().call_later(self._moment_s, self.free)
        self._held.append((name, payload, retained))

    def free(self) -> None:
        """The register was read, or could not be: nothing waits any more."""
        self._is_free = True
        while self._held:
            self._do(*self._held.popleft())
