"""Which results were handed on, and to whom: kept beside the results, and made with them.

So is that they count no more, where bays issued others that contradict them.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sqlalchemy import and_, func, insert, or_, select
from sqlalchemy.exc import IntegrityError

from contract.wire import rfc3339
from records.database import Database
from records.order import contradicted_of
from records.tables import CHAIN, DELIVERIES, RESULTS

End = Literal["delivered", "refused"]
"""How the handing on of a result ended: refused: the receiver will never take it."""


NO_REVISION = -1
"""Of an inspection that is contradicted, in place of a revision's number."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A result that is to be handed on. stored: when, RFC 3339. contradicted: who issued others, where this
    is to be told of its inspection (revision: NO_REVISION)."""

    inspection: str
    revision: int
    stored: str
    document: bytes
    contradicted: str | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """How many results are in which state, and since when the oldest waits."""

    delivered: int
    refused: int
    waiting: int
    oldest: str | None


class Deliveries(Database):
    """What one receiver has had. receiver: its URL. since: only what was stored from then on is for it."""

    def __init__(self, url: str, receiver: str, since: datetime | None = None) -> None:
        super().__init__(url)
        self._receiver = receiver
        self._ended = and_(
            DELIVERIES.c.receiver == receiver,
            DELIVERIES.c.inspection == RESULTS.c.inspection,
            DELIVERIES.c.revision == RESULTS.c.revision,
        )
        self._is_waiting = [~select(DELIVERIES.c.receiver).where(self._ended).exists()]
        if since is not None:
            self._is_waiting.append(RESULTS.c.stored >= rfc3339(since))
        self._looked: tuple[object, ...] | None = None
        """How many records and deliveries there were when no contradiction was left to tell."""

    def first(self) -> Waiting | None:
        """The next result to hand on: the oldest, but of its inspection the lowest revision, whatever the
        clock said when they were stored."""
        first = (
            select(RESULTS.c.inspection)
            .where(*self._is_waiting)
            .order_by(RESULTS.c.stored, RESULTS.c.inspection)
        )
        query = (
            select(RESULTS.c.inspection, RESULTS.c.revision, RESULTS.c.stored, RESULTS.c.document)
            .where(RESULTS.c.inspection == first.limit(1).scalar_subquery(), *self._is_waiting)
            .order_by(RESULTS.c.revision)
            .limit(1)
        )
        with self.connected() as connection:
            found = connection.execute(query).one_or_none()
        return None if found is None else Waiting(*found)

    def contradicted(self) -> Waiting | None:
        """The next inspection of which a result was delivered, and that is contradicted since."""
        mine = DELIVERIES.c.receiver == self._receiver
        ended = select(DELIVERIES.c.ended, func.count()).where(mine).group_by(DELIVERIES.c.ended)
        with self.connected() as connection:
            records = connection.execute(select(func.count()).select_from(CHAIN)).scalar_one()
            there = records, tuple(sorted(map(tuple, connection.execute(ended))))
        if there == self._looked:  # to group all records costs more than a look every other second may
            return None
        for name, bays in sorted(contradicted_of(self).items()):
            one = and_(mine, DELIVERIES.c.inspection == name)
            is_told = select(DELIVERIES.c.ended).where(one, DELIVERIES.c.revision == NO_REVISION)
            result = (
                select(RESULTS.c.document)
                .join(DELIVERIES, self._ended)
                .where(one, DELIVERIES.c.ended == "delivered")
                .order_by(RESULTS.c.revision.desc())
                .limit(1)
            )
            stored = select(func.max(CHAIN.c.stored)).where(CHAIN.c.inspection == name)
            with self.connected() as connection:
                if connection.execute(is_told).first() is not None:
                    continue
                document = connection.execute(result).scalar_one_or_none()
                if document is not None:
                    when = str(connection.execute(stored).scalar_one())
                    return Waiting(name, NO_REVISION, when, document, bays)
        self._looked = there
        return None

    def end(self, one: Waiting, end: End, said: str, now: datetime) -> None:
        """It needs no more handing on, as another process may have found meanwhile. said: what the receiver
        answered."""
        row = {
            "receiver": self._receiver,
            "inspection": one.inspection,
            "revision": one.revision,
            "ended": end,
            "said": said,
            "time": rfc3339(now),
        }
        with suppress(IntegrityError), self.connected() as connection:
            connection.execute(insert(DELIVERIES).values(row))

    def standing(self) -> Standing:
        """How it stands with this receiver."""
        count = select(DELIVERIES.c.ended, func.count()).where(
            DELIVERIES.c.receiver == self._receiver,
            or_(DELIVERIES.c.revision != NO_REVISION, DELIVERIES.c.ended == "refused"),
        )
        waiting = select(func.count(), func.min(RESULTS.c.stored)).where(*self._is_waiting)
        with self.connected() as connection:
            counted = connection.execute(count.group_by(DELIVERIES.c.ended))
            ended = {str(end): int(number) for end, number in counted}
            left, oldest = connection.execute(waiting).one()
        return Standing(ended.get("delivered", 0), ended.get("refused", 0), left, oldest)

    def again(self) -> int:
        """Hand on once more what was refused; says how much that is."""
        with self.connected() as connection:
            refused = and_(DELIVERIES.c.receiver == self._receiver, DELIVERIES.c.ended == "refused")
            return connection.execute(DELIVERIES.delete().where(refused)).rowcount
