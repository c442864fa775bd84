"""Of an order only what the records that came can tell: whichever they are."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from records.order import Chain, lines_of

START = datetime(2026, 11, 26, 6, tzinfo=UTC)
NAMES = "ABCDE"
Bay = list[list[tuple[str, int]]]
"""By chain, each going on from the one before: of each record the inspection and its revision."""


@st.composite
def bays(draw: st.DrawFn) -> Bay:
    """Chains of a bay; of what another overtook there is no record, so that revisions may lack numbers."""
    revisions: Counter[str] = Counter()
    chains: Bay = []
    for said in draw(st.lists(st.lists(st.tuples(st.sampled_from(NAMES), st.integers(1, 2))), max_size=3)):
        chains.append([])
        for name, step in said:
            revisions[name] += step
            chains[-1].append((name, revisions[name]))
    return chains


def told(bay: Bay, came: set[tuple[int, int]]) -> list[list[str]]:
    """What is said where these records have come (chain, place; place 0 begins it): as a database has it."""
    chains: list[Chain] = [("greywacke", "bay-2", str(number)) for number in range(len(bay))]
    first: dict[tuple[Chain, str], tuple[int, int]] = {}
    sizes: dict[Chain, int] = {}
    reached: dict[Chain, int] = {}
    begun: dict[Chain, str | None] = {}
    for number, records in enumerate(bay):
        chain = chains[number]
        places = [place for place in range(len(records) + 1) if (number, place) in came]
        if places:
            sizes[chain] = max(places[-1] + 1, sizes.get(chain, 0))
        reached[chain] = next(place for place in range(len(records) + 2) if place not in places)
        if 0 in places:
            begun[chain] = str(number - 1) if number else None
            if number:
                sizes[chains[number - 1]] = len(bay[number - 1]) + 1
        for place in places:
            if place:
                name, revision = records[place - 1]
                at, least = first.get((chain, name), (place, revision))
                first[chain, name] = min(at, place), min(least, revision)
    # Clocks that say nothing: all that is told of an order is the chain's.
    moments = {name: START - timedelta(days=n) for n, name in enumerate(NAMES)}
    lines = lines_of(
        [(chain, at, name, least <= 1) for (chain, name), (at, least) in first.items()],
        begun,
        {},
        moments,
        {chain: reached[chain] for chain, size in sizes.items() if reached[chain] < size},
    )
    return [[name for name, _ in line] for line in lines.values() if line]


def true_order(bay: Bay) -> list[str]:
    return list(dict.fromkeys(name for records in bay for name, _ in records))


@given(bays())
def test_of_a_whole_chain_the_order_is_told_whole(bay: Bay) -> None:
    every = {(number, place) for number, records in enumerate(bay) for place in range(len(records) + 1)}
    expected = true_order(bay)
    assert told(bay, every) == ([expected] if expected else [])


@given(bays(), st.data())
def test_whatever_has_not_come_yet_no_order_is_told_that_is_not_so(bay: Bay, data: st.DataObject) -> None:
    every = [(number, place) for number, records in enumerate(bay) for place in range(len(records) + 1)]
    came = set(data.draw(st.lists(st.sampled_from(every), unique=True))) if every else set()
    true = true_order(bay)
    for line in told(bay, came):
        assert line == [name for name in true if name in line]


def test_an_inspection_whose_beginning_has_not_come_has_no_place() -> None:
    """A is opened, then B, then A is closed: without A's first record it came after B."""
    bay: Bay = [[("A", 1), ("B", 1), ("A", 2)]]
    assert told(bay, {(0, 0), (0, 2), (0, 3)}) == [["B"]]
