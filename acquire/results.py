"""From committed events to a kept result: the journal is read back, folded, graded, and kept.

What is graded is what the disk holds, never what memory believes.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING

import structlog

from acquire.aside import Aside
from acquire.bay.inspection import fold
from acquire.clock import Clock
from acquire.errors import FoldError
from acquire.grader import Graded, GradingService
from acquire.journal.outbox import result_messages
from acquire.journal.writer import Journal
from config.method import Method
from contract.topics import Topics
from contract.wire import rfc3339

if TYPE_CHECKING:
    from grading.evidence import Inspection

# How many of the latest inspections are looked through at the start for a result that a crash kept
# from being graded: one is open, a few older ones may have been signed in between.
LOOK_BACK = 20


class Results:
    """Grades what has changed, once it is committed; `due` from the loop, `run` as a task."""

    def __init__(
        self,
        journal: Journal,
        grading: GradingService,
        topics: Topics,
        clock: Clock,
        aside: Aside = asyncio.to_thread,
        on_warning: Callable[[], None] = lambda: None,
    ) -> None:
        self._journal = journal
        self._grading = grading
        self._topics = topics
        self._clock = clock
        self._aside = aside
        self._on_warning = on_warning
        self._damaged: dict[str, str] = {}
        self._due: dict[str, int] = {}
        self._wake = asyncio.Event()

    @property
    def warnings(self) -> tuple[str, ...]:
        """Of which inspections the journal was damaged or altered, so that they get no result."""
        return tuple(self._damaged.values())

    def due(self, inspection: str, seq: int) -> None:
        """The events up to and with `seq` may change the result of `inspection`."""
        self._due[inspection] = max(seq, self._due.get(inspection, 0))
        self._wake.set()

    def keep(self, graded: Graded) -> None:
        """Into the journal and, in the same transaction, into its outbox."""
        is_latest = graded.inspection == self._journal.latest_inspection()
        messages = result_messages(self._topics, graded.inspection, graded.document, is_latest=is_latest)
        utc = rfc3339(self._clock.utc())
        self._journal.put_result(graded.inspection, graded.revision, graded.document, utc, messages)

    async def look_back(self) -> None:
        """Have graded what a crash kept from being graded."""
        for inspection in await self._aside(self._ungraded):
            self.due(inspection, 0)

    async def run(self) -> None:
        """For ever."""
        while True:
            await self._wake.wait()
            self._wake.clear()
            while self._due:
                inspection = next(iter(self._due))
                seq = self._due.pop(inspection)  # before waiting: what comes meanwhile is due anew
                await self._journal.committed(seq)
                try:
                    evidence, method = await self._aside(self._read, inspection, seq)
                except Exception as error:  # one that cannot be read must not stop the others
                    structlog.get_logger().exception("inspection cannot be graded", inspection=inspection)
                    self._damaged[inspection] = f"inspection {inspection} cannot be graded: {error}"
                    self._on_warning()
                    continue
                self._grading.submit(evidence, method)
                del evidence  # of a long sweep it is large, and the next may be long in coming

    def _read(self, inspection: str, seq: int) -> tuple[Inspection, Method]:
        from acquire.altered import altered  # heavy, as what follows
        from acquire.bay.evidence import to_evidence

        state = fold(self._journal.read(inspection, upto=seq or None))
        evidence = to_evidence(state)
        method = Method.model_validate(state.opened.method)
        before = self._journal.result(evidence.id)
        if before is not None and (what := altered(self._journal.path, before, evidence, method)) is not None:
            raise FoldError(f"{what}: the journal was damaged or altered; restore it from a copy")
        return evidence, method

    def _ungraded(self) -> list[str]:
        found = []
        for inspection in self._journal.inspections()[-LOOK_BACK:]:
            try:
                state = fold(self._journal.read(inspection, samples=False))
            except FoldError as err:  # an old one that is not whole must not keep the bay from starting
                structlog.get_logger().error("inspection cannot be read", reason=str(err))
                continue
            if self._journal.result(inspection, state.revision) is None:
                found.append(inspection)
        return found
