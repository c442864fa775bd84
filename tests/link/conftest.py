"""A broker that several tests want."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from tests.link.certificates import certificate, write_pem
from tests.link.outside import Mosquitto, mosquitto


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
