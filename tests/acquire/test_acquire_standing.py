"""Readings that stand still in their noise, and readings that move."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.angle.standing import READINGS_MIN, Standing

WITHIN_NM, STEP_NM = 2_000.0, 1_000


def stood(values: list[int]) -> Standing:
    standing = Standing(WITHIN_NM)
    standing.mark(0, anew=False)
    for value in values:
        standing.take(value)
    return standing


@pytest.mark.parametrize("readings", [READINGS_MIN, 8, 19, 20, 130, 1000])
def test_readings_that_scatter_in_a_gauges_last_digit_stand_still(readings: int) -> None:
    """Normal noise of 0.8 steps, as long as somebody waits at a mark; no more than 1 in 20 misses."""
    rng = random.Random(5)
    noise = [[round(rng.gauss(0.3, 0.8)) * STEP_NM for _ in range(readings)] for _ in range(200)]
    assert sum(not stood(values).is_still for values in noise) <= 10


@given(st.lists(st.integers(0, 50_000), min_size=READINGS_MIN, max_size=60), st.booleans())
def test_readings_that_only_rise_or_only_fall_have_moved(values: list[int], falls: bool) -> None:
    values.sort(reverse=falls)
    assert stood(values).is_still is (max(values) - min(values) <= WITHIN_NM)


@pytest.mark.parametrize("readings", [20, 130, 1000])
def test_a_surface_that_passes_its_crest_has_moved(readings: int) -> None:
    """Up by 10 steps and down again, in noise."""
    rng = random.Random(5)
    half = readings / 2
    rise = [10.0 * (1.0 - abs(i - half) / half) for i in range(readings)]
    assert not stood([round(height + rng.gauss(0.0, 0.8)) * STEP_NM for height in rise]).is_still
