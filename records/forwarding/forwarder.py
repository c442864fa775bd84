"""Hands on what waits, in order, one at a time, for as long as it takes."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import structlog

from contract.pauses import Pauses
from records.errors import RecordRefusedError, RecordsUnavailableError
from records.forwarding.deliveries import Deliveries, End, Waiting
from records.forwarding.event import as_contradiction, as_event

LOOK_EVERY_S = 2.0
"""Between looks for new results, while there are none."""
AGAIN_FIRST_S, AGAIN_MAX_S = 1.0, 300.0
"""First and longest pause before what failed is tried again."""
ASKED_MAX_S = 3600.0
"""The longest pause that a receiver may ask for."""
NEVER = frozenset((400, 409, 413, 415, 422))
"""Answers to a document that its receiver will not take however often it comes (RFC 9110, 15.5). All others
may be mended: a wrong credential, a service that is down."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back. status: of HTTP; None where nothing did. after_s: how long we are asked to wait."""

    status: int | None
    said: str
    after_s: float = 0.0


class Forwarder:
    """post: sends an event, and never raises. utc: the wall clock."""

    def __init__(
        self,
        deliveries: Deliveries,
        post: Callable[[bytes], Awaitable[Answer]],
        utc: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._deliveries, self._post, self._utc = deliveries, post, utc
        self._log = structlog.get_logger()
        self._is_held = False
        self._owed: tuple[str, int, str, End] | None = None
        """How one ended that could not be written down yet, as the disk is full: it is not sent twice."""

    async def run(self) -> None:
        """For ever."""
        pauses = Pauses(AGAIN_FIRST_S, AGAIN_MAX_S)
        while True:
            try:
                held = await self.hand_on()
            except RecordsUnavailableError as error:
                held = Answer(None, str(error))
            self._tell(held)
            if held is None:
                pauses.anew()
                await asyncio.sleep(LOOK_EVERY_S)
            elif held.after_s:
                await asyncio.sleep(min(held.after_s, ASKED_MAX_S))
            else:
                await pauses.wait()

    async def hand_on(self) -> Answer | None:
        """Hand on all that waits; the answer that holds it up, None where nothing does.

        Raises RecordsUnavailableError.
        """
        while (one := await asyncio.to_thread(self._next)) is not None:
            try:
                event = _event(one)
            except RecordRefusedError as error:  # what is none will never be taken, and holds nothing up
                await self._end(one, str(error), "refused")
                continue
            if self._owed is not None and self._owed[:2] == (one.inspection, one.revision):
                await self._end(one, *self._owed[2:])
                continue
            answer = await self._post(event)
            said = f"{answer.status} {answer.said}".strip()
            if answer.status is not None and 200 <= answer.status < 300:
                await self._end(one, said, "delivered")
            elif answer.status in NEVER:
                await self._end(one, said, "refused")
            else:
                return answer
        return None

    def _next(self) -> Waiting | None:
        """Results first: who takes no other events has them all."""
        return self._deliveries.first() or self._deliveries.contradicted()

    async def _end(self, one: Waiting, said: str, end: End) -> None:
        self._owed = one.inspection, one.revision, said, end
        await asyncio.to_thread(self._deliveries.end, one, end, said, self._utc())
        self._owed = None
        named = {"inspection": one.inspection, "revision": one.revision, "said": said}
        if one.contradicted is not None:
            del named["revision"]
            what = "the receiver is told that results of an inspection contradict each other"
            if end == "refused":
                what = (
                    "that results of an inspection contradict each other is refused: tell whoever uses them"
                )
            self._log.error(what, bays=one.contradicted, **named)
        elif end == "refused":
            self._log.error("a result is refused: mend what is said of it, then forward --again", **named)
        else:
            self._log.info("result handed on", **named)

    def _tell(self, held: Answer | None) -> None:
        """Say once that nothing gets through, and once that it does again."""
        if held is not None and not self._is_held:
            self._log.warning(
                "results wait: receiver or records cannot be used now, as is said; tried again",
                status=held.status,
                said=held.said,
            )
        elif held is None and self._is_held:
            self._log.info("all results are handed on again")
        self._is_held = held is not None


def _event(one: Waiting) -> bytes:
    if one.contradicted is None:
        return as_event(one.document, one.stored)
    return as_contradiction(one.document, one.contradicted, one.stored)
