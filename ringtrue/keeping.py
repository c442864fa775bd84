"""The daemon's records: loaded and opened beside the loop when they are first needed.

The store's library takes longer to load than everything between a gauge and its first reading.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, cast

from acquire.bay.known import Known
from acquire.errors import NotTakenError
from contract.terms import Construction, Family
from records.errors import RecordRefusedError
from ringtrue.arguments import missing_file

if TYPE_CHECKING:
    from records.store import Store

# An address that can only be right. Any other one is looked at before the daemon begins, by the store itself.
_PLAIN = re.compile(r"sqlite:///[^?#%]+")


class RecordsKeeper:
    """Stores result documents in the database at `url`. Raises RecordRefusedError at once where that is no
    address, or there is no driver for it."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._opened: Store | None = None
        if not _PLAIN.fullmatch(url):
            self._store()

    async def deliver(self, document: bytes) -> None:
        """Keep one document; raises RecordsUnavailableError where it cannot be now, NotTakenError where
        never."""
        with _never_taken():
            await asyncio.to_thread(lambda: self._store().put(document))

    async def deliver_chain(self, record: bytes) -> None:
        """The same of one record of the chain."""
        from records.chained import put_record

        with _never_taken():
            await asyncio.to_thread(lambda: put_record(self._store(), record, datetime.now(UTC)))

    async def is_new(self) -> bool:
        """Whether the records hold nothing, or others, since this was last asked; raises as `deliver`."""
        return await asyncio.to_thread(lambda: self._store().is_new())

    async def held(self, site: str, bay: str) -> int:
        """How many results of a bay they hold; raises as `deliver`."""
        return await asyncio.to_thread(lambda: self._store().held(site, bay))

    async def register(self) -> Known:
        """What the register says of engines, dampers and gauges; raises as `deliver`."""
        return await asyncio.to_thread(self._known)

    def _known(self) -> Known:
        if missing_file(self._url) is not None:
            return Known()  # before what takes long to load: an opening may wait for this
        from records.register.register import Register

        with closing(Register(self._url, create=False)) as register:
            book = register.load()
        return Known(
            ratings_kw={
                str(row["engine"]): cast("float | None", row["rating_kw"]) for row in book["engines"].values()
            },
            dampers={
                str(row["damper"]): (
                    cast(Family, row["family"]),
                    cast("Construction | None", row["construction"]),
                )
                for row in book["dampers"].values()
            },
            gauges_due={
                str(row["gauge"]): date.fromisoformat(str(row["calibration_due"]))
                for row in book["gauges"].values()
            },
            gauges_mpe_mm={str(row["gauge"]): cast(float, row["mpe_mm"]) for row in book["gauges"].values()},
        )

    def close(self) -> None:
        """Let go of the database."""
        if self._opened is not None:
            self._opened.close()

    def _store(self) -> Store:
        """One caller at a time: the daemon asks of its records one thing after the other."""
        if self._opened is None:
            from records.store import Store

            self._opened = Store(self._url)
        return self._opened


@contextmanager
def _never_taken() -> Iterator[None]:
    try:
        yield
    except RecordRefusedError as error:
        raise NotTakenError(str(error)) from None
