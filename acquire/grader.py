"""Grading beside the loop: evidence in, encoded results out, one at a time and in order."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import structlog

from acquire.aside import Aside
from acquire.judging import Judging
from acquire.memory import give_back
from config.method import Method
from contract.terms import Verdict

if TYPE_CHECKING:
    from grading.evidence import Inspection


@dataclass(frozen=True, slots=True)
class Graded:
    """One result, ready to be kept and sent: exactly these bytes."""

    inspection: str
    revision: int
    verdict: Verdict
    document: bytes


@dataclass(frozen=True, slots=True)
class ServiceStatistics:
    """What the service has done so far. superseded: evidence that newer evidence of the same
    inspection overtook before it was graded."""

    graded: int
    superseded: int
    failed: int


class GradingService:
    """Grades evidence as it comes, beside the loop, and hands every result over on the loop.

    Of one inspection only the newest evidence waits, so the queue is bounded by the number of
    inspections. A failure to grade is logged and counted; the service goes on.
    """

    def __init__(
        self,
        emit: Callable[[Graded], None],
        aside: Aside = asyncio.to_thread,
        judging: Judging | None = None,
    ) -> None:
        self._emit = emit
        self._judging = judging or Judging()
        self._aside = aside
        self._waiting: dict[str, tuple[Inspection, Method]] = {}
        self._wake = asyncio.Event()
        self._idle = asyncio.Event()
        self._idle.set()
        self._graded = self._superseded = self._failed = 0

    def submit(self, evidence: Inspection, method: Method) -> None:
        """Have this graded; returns at once. Evidence older than what waits is left out."""
        before = self._waiting.get(evidence.id)
        if before is not None:
            self._superseded += 1
            if before[0].revision > evidence.revision:
                return
        self._waiting[evidence.id] = (evidence, method)
        self._idle.clear()
        self._wake.set()

    def statistics(self) -> ServiceStatistics:
        """A snapshot."""
        return ServiceStatistics(self._graded, self._superseded, self._failed)

    async def wait_idle(self) -> None:
        """Until everything submitted has been graded and handed over."""
        await self._idle.wait()

    async def run(self) -> None:
        """Grade for ever; ends by cancellation only."""
        while True:
            await self._wake.wait()
            self._wake.clear()
            while self._waiting:
                evidence, method = self._waiting.pop(next(iter(self._waiting)))
                await self._grade(evidence, method)
            self._idle.set()

    async def _grade(self, evidence: Inspection, method: Method) -> None:
        log = structlog.get_logger().bind(inspection=evidence.id, revision=evidence.revision)
        try:
            graded = await self._aside(self._result, evidence, method)
            self._emit(graded)
        except Exception:
            self._failed += 1
            log.exception("inspection not graded")
            return
        self._graded += 1
        log.info("graded", verdict=graded.verdict, bytes=len(graded.document))
        await self._aside(give_back)

    def _result(self, evidence: Inspection, method: Method) -> Graded:
        from contract.document import encode

        result = self._judging(evidence, method)
        return Graded(evidence.id, evidence.revision, result.verdict, encode(result))
