from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from simulators.port import PtyPort
from tests.drivers.support import Heard, MemoryFarSide


@pytest.fixture
def heard() -> Heard:
    return Heard()


@pytest.fixture
def pty(tmp_path: Path) -> Iterator[PtyPort]:
    with PtyPort(tmp_path / "gauge") as port:
        yield port


@pytest.fixture
async def memory() -> MemoryFarSide:
    far = MemoryFarSide()
    await far.plug()
    return far
