"""What the records hold of each damper: its results, and its history made once for each state of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from config.errors import RingtrueError
from contract.document import decode
from contract.serials import bare
from records.errors import RecordRefusedError
from records.store import columns_of

if TYPE_CHECKING:
    from contract.result import Result
    from grading.programme.order import Place
    from grading.programme.past import History, Spell
    from records.order import Order
    from records.register.merging import Rows
    from records.store import Store

Memory = dict[str, tuple[tuple[object, ...], "History"]]
"""Bare serial of a damper → the hashes of its documents, their places, what is contradicted and what does not
stand, and the history made of it."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What there is of a serial. damper: its own, or where it is an engine's, of the last of the dampers that
    it has carried, which are `carried`; results: of that damper, however its serial was written; order: as
    the records tell it; uncounted: by its id why a `keep` of these does not stand."""

    damper: str
    carried: tuple[Spell, ...]
    results: tuple[Result, ...]
    order: Order
    uncounted: Mapping[str, str]

    @property
    def places(self) -> Mapping[str, Place]:
        """Of inspections among their bays'."""
        from grading.programme.order import places_of

        return places_of(self.order.lines)

    @property
    def history(self) -> History:
        """The damper's."""
        from grading.programme.past import history_of

        past = history_of(self.results, self.places, self.order.contradicted, self.uncounted)
        return replace(past, damper=self.damper)


def results_of(documents: Iterable[bytes]) -> Iterator[Result]:
    """What the records hold, as far as this version can read it: one that it cannot is an error, as a
    history or an export with a hole in it would mislead."""
    for document in documents:
        try:
            yield decode(document)
        except ValidationError as error:
            where = ".".join(str(part) for part in error.errors()[0]["loc"])
            named = columns_of(document)["inspection"]
            raise RingtrueError(
                f"records: the record of inspection {named} cannot be read ({where}): is it a newer "
                "version's?"
            ) from None


def asked_of(store: Store, serial: str, dampers: Rows) -> Asked | None:
    """What is on record of a damper or an engine; None where nothing is. dampers: the register's."""
    from grading.programme.order import places_of
    from grading.programme.past import carried_by
    from records.order import order_of
    from records.register.standing import judged_of, uncounted

    ours, order = list(store.latest(damper=serial)), order_of(store)
    there = () if ours else tuple(results_of(store.latest(engine=serial)))
    carried = carried_by(there, places_of(order.lines))
    if carried:
        ours = list(store.latest(damper=carried[-1].serial))
    why = uncounted(judged_of(ours, order), dampers)
    results = tuple(results_of(ours))
    if not results:
        return None
    sought = carried[-1].serial if carried else serial
    written = [one.damper.serial for one in results]
    return Asked(sought if sought in written else written[-1], carried, results, order, why)


class Pasts:
    """Every damper's, however its serial is written. documents: the latest revision of each inspection.
    memory: of histories made before, changed as new ones are made. order: as the records tell it. uncounted:
    by its id why a `keep` does not stand. places: of inspections among their bays'. unread: what is no result
    document."""

    def __init__(
        self, documents: Iterable[bytes], memory: Memory, order: Order, uncounted: Mapping[str, str]
    ) -> None:
        from grading.programme.order import places_of

        self._documents: dict[str, list[tuple[tuple[object, ...], bytes]]] = defaultdict(list)
        self._written: dict[str, str] = {}
        self._memory, self._contradicted, self.uncounted = memory, order.contradicted, uncounted
        self.places: Mapping[str, Place] = places_of(order.lines)
        self.unread: list[str] = []
        for document in documents:
            try:
                row: dict[str, Any] = columns_of(document)
            except RecordRefusedError as error:
                self.unread.append(str(error))
            else:
                name = row["inspection"]
                known = row["sha256"], self.places.get(name), uncounted.get(name)
                serial = bare(row["damper"])
                self._documents[serial].append((known, document))
                self._written[serial] = row["damper"]

    def dampers(self) -> list[str]:
        """Their serials, each once, as it was written last."""
        return sorted(self._written.values())

    def results(self, damper: str) -> list[Result]:
        """Those of one damper. Raises RingtrueError where one cannot be read."""
        return list(results_of(document for _, document in self._documents.get(bare(damper), ())))

    def history(self, damper: str) -> History | None:
        """None where nothing is on record of it. Raises RingtrueError where some of that cannot be read."""
        from grading.programme.past import history_of

        serial = bare(damper)
        if serial not in self._documents:
            return None
        state = (
            *(known for known, _ in self._documents[serial]),
            *sorted(self._contradicted.items()),
        )
        known = self._memory.get(serial)
        if known is None or known[0] != state:
            known = self._memory[serial] = (
                state,
                history_of(self.results(damper), self.places, self._contradicted, self.uncounted),
            )
        return known[1]
