from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.angle.moves import blocks_of


@given(
    st.integers(2, 80),
    st.integers(0, 2**32 - 1),
    st.sampled_from([100, 1_000, 10_000]),
    st.sampled_from([20_000_000, 200_000_000, 900_000_000]),
)
def test_however_few_readings_there_are_each_block_stands_or_moves(
    readings: int, seed: int, step_nm: int, period_ns: int
) -> None:
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.integers(1, 2 * period_ns, readings))
    values = np.round(rng.normal(0, 60_000, readings).cumsum() / step_nm).astype(np.int64) * step_nm
    blocks = blocks_of(times, values, step_nm)
    assert blocks.moves.shape == blocks.value_mm.shape
    assert blocks.edge_s.size == blocks.moves.size + 1


@pytest.mark.parametrize("readings", range(2, 60))
def test_a_gauge_that_moves_little_and_long(readings: int) -> None:
    """Fewer blocks than are looked at beside a movement."""
    times = np.arange(readings, dtype=np.int64) * 400_000_000
    values = np.where(np.arange(readings) % 9 == 0, 90_000, 0) + np.arange(readings) * 5_000
    assert blocks_of(times, values.astype(np.int64), 1_000).moves.size <= readings
