"""The walk tells which method is in force, who signed it, since when, and which one waits."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path

from contract.document import encode
from contract.lengths import UNITS
from contract.live import Live
from contract.methods import MethodMessage, method_payload
from display.walk.bay import BayAtHand
from display.walk.course import page_of
from display.walk.place import Place
from display.walk.view import View
from link.tasks import end
from tests.display.pages import METHODS, NAME, PLAIN, result
from tests.link.outside import until
from tests.ringtrue.inspecting.bay import memory_bay
from tests.ringtrue.inspecting.line import ADDRESS

ISSUED, WAITED_FOR, WITHHELD = METHODS
BY = "By method 1 2, since 2026-11-02"
SIGNED = "signed by its office: issue 7"


def rows(method: MethodMessage | None, *, is_open: bool) -> tuple[str, ...]:
    view = View("1/2", live=Live(), method=method)
    if not is_open:
        return page_of(view, Place(), {}).rows
    view = replace(view, live=Live(inspection=NAME), result=result())
    return page_of(view, replace(PLAIN, stage="list"), {}).rows


def test_it_stands_where_an_inspection_is_opened_and_on_its_list() -> None:
    for is_open in (False, True):
        assert rows(ISSUED, is_open=is_open) == (f"{BY} · {SIGNED}",)
        waits = "1 3 waits until this inspection is over"
        assert rows(WAITED_FOR, is_open=is_open) == (f"{BY} · {SIGNED} · {waits}",)
        assert rows(WITHHELD, is_open=is_open) == ("No method is in force: no inspection can be opened",)


def test_where_no_office_hands_any_out_it_is_that_of_the_inspection() -> None:
    assert rows(None, is_open=False) == ()
    assert rows(None, is_open=True) == ("By method 1 1",)


async def test_it_is_heard_from_the_bay_and_gone_when_it_is_taken_back(tmp_path: Path) -> None:
    async with memory_bay(tmp_path) as bay:
        there = BayAtHand(
            bay.topics,
            "R. Example",
            lambda: ADDRESS,
            unit=UNITS["mm"],
            now_s=bay.now_s,
            on_news=lambda: None,
            connect=bay.line.connect,
            chance=lambda: 0.0,
        )
        hearing = asyncio.ensure_future(there.run())
        bay.line.publish(bay.topics.method, method_payload(ISSUED), retain=True)
        await until(lambda: there.view().method == ISSUED)
        bay.line.publish(bay.topics.method, b"", retain=True)
        await until(lambda: there.view().method is None)
        # By whoever clears the broker; by a newer daemon.
        for taken in (b"", b'{"schema": "ringtrue/result/9"}'):
            bay.line.publish(bay.topics.result, encode(result()), retain=True)
            await until(lambda: there.view().result is not None)
            bay.line.publish(bay.topics.result, taken, retain=True)
            await until(lambda: there.view().result is None)
        await end(hearing)
