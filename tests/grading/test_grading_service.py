from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest

from acquire.grader import Graded, GradingService, ServiceStatistics
from contract.document import encode
from grading.assess import assess
from grading.evidence import Observed
from tests.grading.samples import EXAMPLE, inspection, observed


@asynccontextmanager
async def running(service: GradingService) -> AsyncIterator[None]:
    task = asyncio.create_task(service.run())
    try:
        yield
        await service.wait_idle()
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_what_is_submitted_comes_out_as_the_bytes_of_its_result() -> None:
    out: list[Graded] = []
    evidence = inspection({"visual": (observed("visual"),)}, scope="on-engine")
    service = GradingService(out.append)
    async with running(service):
        service.submit(evidence, EXAMPLE)
    expected = encode(assess(evidence, EXAMPLE))
    assert out == [Graded("i-1", 9, "incomplete", expected)]


async def test_several_inspections_come_out_in_the_order_submitted() -> None:
    out: list[Graded] = []
    service = GradingService(out.append)
    for name in ("a", "b", "c"):
        service.submit(inspection({}, id=name), EXAMPLE)
    async with running(service):
        pass
    assert [graded.inspection for graded in out] == ["a", "b", "c"]


async def test_newer_evidence_overtakes_older_that_still_waits_and_never_the_other_way() -> None:
    out: list[Graded] = []
    service = GradingService(out.append)
    for revision in (1, 3, 2):
        service.submit(inspection({}, revision=revision), EXAMPLE)
    async with running(service):
        pass
    assert [graded.revision for graded in out] == [3]
    assert service.statistics() == ServiceStatistics(graded=1, superseded=2, failed=0)


@pytest.mark.usefixtures("capsys")
async def test_a_failure_to_grade_is_counted_and_the_service_goes_on() -> None:
    out: list[Graded] = []
    service = GradingService(out.append)
    service.submit(inspection({"rim": (Observed(()),)}, id="wrong"), EXAMPLE)
    service.submit(inspection({}, id="right"), EXAMPLE)
    async with running(service):
        pass
    assert [graded.inspection for graded in out] == ["right"]
    assert service.statistics().failed == 1


async def test_a_failure_to_hand_over_is_counted_and_the_service_goes_on() -> None:
    out: list[Graded] = []

    def emit(graded: Graded) -> None:
        if graded.revision == 1:
            raise OSError("disk full")
        out.append(graded)

    service = GradingService(emit)
    async with running(service):
        service.submit(inspection({}, revision=1), EXAMPLE)
        await service.wait_idle()
        service.submit(replace(inspection({}), revision=2), EXAMPLE)
    assert [graded.revision for graded in out] == [2]
    assert service.statistics() == ServiceStatistics(graded=1, superseded=0, failed=1)
