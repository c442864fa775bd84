"""The daemon's start: a reading waits for nothing that it needs not, and what is wrong is said at once."""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path

import pytest

from config.settings import read_settings
from link.broker import built_in_address
from tests.acquire.stand import stand
from tests.link.outside import WAIT_S, ear, until

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]

# Stands for the large libraries, and one that displays use: whoever asks for one of them waits for ever.
_NEVER = """
import sys, threading
class Never:
    def find_spec(self, name, path=None, target=None):
        if name in {"numpy", "scipy", "sqlalchemy", "alembic", "aiomqtt", "rich", "textual"}:
            print("asked for", name, file=sys.stderr, flush=True)
            threading.Event().wait()
sys.meta_path.insert(0, Never())
from ringtrue.cli import main
sys.exit(main())
"""


async def test_readings_are_published_before_the_large_libraries_are_loaded(tmp_path: Path) -> None:
    async with stand() as gauges:
        config = gauges.config(tmp_path, "port = 0")
        daemon = await asyncio.create_subprocess_exec(
            *(sys.executable, "-c", _NEVER, "run", "--config", str(config)),
            stderr=asyncio.subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        try:
            settings = read_settings(config, {})
            url = settings.mqtt.folder / "url"
            await until(lambda: url.exists() or daemon.returncode is not None)
            async with ear(built_in_address(settings.mqtt), "ringtrue/1/+/+/gauge/+/reading") as heard:
                for gauge in ("indicator-1", "encoder-1"):
                    await heard.until_payload(f"{gauge}/reading")
            # Only then are they asked for, beside the loop.
            assert daemon.stderr is not None
            async with asyncio.timeout(WAIT_S):
                while b"asked for" not in await daemon.stderr.readline():
                    pass
        finally:
            daemon.kill()
            await daemon.communicate()


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("nonsense://x/records", "no driver for 'nonsense'"),
        ("sqlite+nothing:///var/records.db", "no driver for 'sqlite+nothing'"),
        ("a b://x", "is no database address"),
    ],
)
async def test_records_that_cannot_be_are_said_at_the_start(tmp_path: Path, url: str, said: str) -> None:
    async with stand() as gauges:
        daemon = await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "ringtrue", "--log-level", "error", "run", "--config"),
            str(gauges.config(tmp_path, "port = 0")),
            stderr=asyncio.subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT), "RINGTRUE_RECORDS__URL": url},
        )
        async with asyncio.timeout(WAIT_S):
            _, told = await daemon.communicate()
    lines = told.decode().splitlines()
    assert (daemon.returncode, len(lines)) == (3, 1), lines
    assert lines[0].startswith("ringtrue: records: ")
    assert said in lines[0]
