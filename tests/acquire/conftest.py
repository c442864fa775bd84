"""Brokers and bays that several tests want."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Literal

import pytest

from tests.acquire.certificates import certificate, write_pem
from tests.acquire.outside import Mosquitto, mosquitto
from tests.acquire.workbench import Workbench

Make = Callable[..., Workbench]


@pytest.fixture
async def secured(tmp_path: Path) -> AsyncIterator[Mosquitto]:
    """A workshop's mosquitto: TLS, and nobody without a password."""
    authority = certificate("the quarry's authority")
    write_pem(tmp_path, "ca", authority)
    write_pem(tmp_path, "server", certificate("broker", authority))
    write_pem(tmp_path, "other", certificate("somebody else's authority"))
    users = tmp_path / "users"
    users.write_text("bay-2:right\n")
    tool = await asyncio.create_subprocess_exec("mosquitto_passwd", "-U", str(users))
    assert await tool.wait() == 0
    lines = [
        f"cafile {tmp_path}/ca.crt", f"certfile {tmp_path}/server.crt", f"keyfile {tmp_path}/server.key",
        "allow_anonymous false", f"password_file {users}",
    ]  # fmt: skip
    async with mosquitto(
        tmp_path, lines, tls=True, ca_file=tmp_path / "ca.crt", username="bay-2", password="right"
    ) as broker:
        yield broker


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
