"""Bays by their own code, real brokers, real writers, a real database, and what goes wrong with each: every
acknowledged result is on record once, none twice. `python -m tests.benchmarks.fleet` is the long form."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.parts.loads import bridged, on_one_broker
from tests.parts.outage import cut_off
from tests.parts.postgres import Postgres

pytestmark = pytest.mark.slow


async def test_one_broker_with_a_writer_killed_and_the_database_restarted(
    tmp_path: Path, postgres: Postgres
) -> None:
    told = await on_one_broker(tmp_path, postgres, bays=8, results=4, over_s=3.0, goes_wrong=True)
    assert told.results == 32


async def test_a_cluster_with_a_node_killed_a_bridge_cut_a_writer_killed_and_the_database_restarted(
    tmp_path: Path, postgres: Postgres
) -> None:
    told = await bridged(tmp_path, postgres, bays=4, results=4, over_s=6.0, goes_wrong=True)
    assert told.results == 16


async def test_a_line_that_is_cut_loses_and_doubles_nothing(tmp_path: Path, postgres: Postgres) -> None:
    """`python -m tests.benchmarks.outage` is an hour of it."""
    told = await cut_off(tmp_path, postgres, bays=3, every_s=1.0, busy_every_s=0.1, cut_s=4.0)
    assert told.kept > told.busy > 20
    assert told.caught_up_s < 45.0
