"""Bays by their own code, real brokers, real writers, a real database, and what goes wrong with each: every
acknowledged result is on record once, none twice. `python -m tests.benchmarks.fleet` is the long form."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.parts.loads import bridged, on_one_broker
from tests.parts.postgres import Postgres

pytestmark = pytest.mark.slow


async def test_one_broker_with_a_writer_killed_and_the_database_restarted(
    tmp_path: Path, postgres: Postgres
) -> None:
    told = await on_one_broker(tmp_path, postgres, bays=8, results=4, over_s=3.0, goes_wrong=True)
    assert told.results == 32


async def test_a_cluster_with_a_node_killed_a_bridge_cut_and_a_writer_killed(
    tmp_path: Path, postgres: Postgres
) -> None:
    told = await bridged(tmp_path, postgres, bays=4, results=4, over_s=6.0, goes_wrong=True)
    assert told.results == 16
