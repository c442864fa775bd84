"""Brokers and bays that several tests want."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal

import pytest

from tests.acquire.workbench import Workbench
from tests.link.conftest import secured

__all__ = ["Make", "bench", "make", "secured"]

Make = Callable[..., Workbench]


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Make]:
    made: list[Workbench] = []

    def one(source: Literal["encoder", "marks"] = "encoder") -> Workbench:
        made.append(Workbench(tmp_path, source))
        return made[-1]

    yield one
    for bench in made:
        bench.close()


@pytest.fixture
def bench(make: Make) -> Workbench:
    return make()
