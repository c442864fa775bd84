from __future__ import annotations

import itertools

import pytest

from drivers.state import PortEvent, PortState, next_state

# Rows: from; columns: found failed opened ready reading missed broke closed. A dot: stays.
GRID = """
absent   opening .      .       .    .    .      .    .
opening  .       absent hunting .    .    .      lost absent
hunting  .       .      .       live live silent lost absent
live     .       .      .       .    .    silent lost absent
silent   .       .      .       .    live .      lost absent
lost     .       .      .       .    .    .      .    absent
"""
EVENTS = ("found", "failed", "opened", "ready", "reading", "missed", "broke", "closed")
WALK = [
    (row.split()[0], event, cell if cell != "." else row.split()[0])
    for row in GRID.strip().splitlines()
    for event, cell in zip(EVENTS, row.split()[1:], strict=True)
]


@pytest.mark.parametrize(("state", "event", "after"), WALK)
def test_every_pair_leads_where_the_picture_says(state: str, event: str, after: str) -> None:
    assert next_state(PortState(state), PortEvent(event)) is PortState(after)


def test_the_walk_is_whole() -> None:
    walked = {(PortState(state), PortEvent(event)) for state, event, _ in WALK}
    assert walked == set(itertools.product(PortState, PortEvent))


def test_every_state_can_be_reached_and_left() -> None:
    reached = {PortState.ABSENT}
    for _ in PortState:
        reached |= {next_state(state, event) for state in reached for event in PortEvent}
    assert reached == set(PortState)
    for state in PortState:
        assert any(next_state(state, event) is not state for event in PortEvent)


def test_no_port_is_live_without_a_sign_of_life() -> None:
    signs = {PortEvent.READING, PortEvent.READY}
    for state, event in itertools.product(set(PortState) - {PortState.LIVE}, set(PortEvent) - signs):
        assert next_state(state, event) is not PortState.LIVE
