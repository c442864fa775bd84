"""Where messages of bays come from: one protocol, whatever carries them.

A source hands out batches, and hands a message out again until its batch was `taken`: at least once, in any
order, to one of several writers or to more than one. Whoever files them makes that "once".
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from typing import Protocol

ENOUGH, BATCH_MAX = 50, 2000
"""Messages in a batch that waits for no more; and at most, where more are there already: the more of a bay's
records follow each other in it, the fewer signatures are verified (measured)."""
GATHER_S = 0.05
"""Seconds that a message may wait for others to be filed with."""


class Batch(Protocol):
    """Some messages, each its topic (as the bay's broker has it: `ringtrue/1/SITE/BAY/…`) and its payload.
    Never empty; at most BATCH_MAX, gathered for GATHER_S."""

    @property
    def messages(self) -> Sequence[tuple[str, bytes]]: ...

    async def taken(self) -> None:
        """They are committed: whoever keeps them for us may let them go. Where the connection is gone
        meanwhile they come again, and that is no error."""


class Source(Protocol):
    """Messages of `contract.topics`: `inspection/+/result`, `chain` and `checkpoint` of all bays."""

    def batches(self) -> AsyncIterator[Batch]:
        """For ever, over lost connections, which it mends itself and logs once each; closed (`aclose`) to
        end. The next batch may be asked for before the one before is taken."""

    async def ask(self, topic: str, payload: bytes) -> bool:
        """Publish a command to a bay; False where this source leads to no bay, or cannot now."""
