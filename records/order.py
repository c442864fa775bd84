"""In which order each bay opened its inspections, by the chains on record; and which results contradict."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select

from records.database import Database
from records.tables import CHAIN, RESULTS

Lines = Mapping[str, list[tuple[str, datetime]]]
Chain = tuple[str, str, str]
"""Site, bay, chain."""


@dataclass(frozen=True, slots=True)
class Order:
    """lines: as grading has them, of chains that do not branch. contradicted: by the id of an inspection of
    which bays issued results that contradict each other, who: one of them is on record alone."""

    lines: Lines
    contradicted: Mapping[str, str]


NONE = Order({}, {})


def contradicted_of(database: Database) -> dict[str, str]:
    """As `Order.contradicted`."""
    twice = (
        select(CHAIN.c.inspection, CHAIN.c.revision)
        .where(CHAIN.c.inspection.is_not(None))
        .group_by(CHAIN.c.inspection, CHAIN.c.revision)
        .having(func.count() > 1)
        .subquery()
    )
    same = (CHAIN.c.inspection == twice.c.inspection) & (CHAIN.c.revision == twice.c.revision)
    with database.connected() as connection:
        told = connection.execute(select(CHAIN.c.record).join(twice, same)).scalars().all()
    return _contradicted(map(_read, told))


def order_of(database: Database) -> Order:
    """What the chains on record say of it; whether their signatures hold, `records verify` says."""
    with database.connected() as connection:
        opened = connection.execute(
            select(RESULTS.c.inspection, func.max(RESULTS.c.opened)).group_by(RESULTS.c.inspection)
        ).all()
        first = connection.execute(
            select(CHAIN.c.site, CHAIN.c.bay, CHAIN.c.chain, CHAIN.c.inspection, func.min(CHAIN.c.place))
            .where(CHAIN.c.inspection.is_not(None))
            .group_by(CHAIN.c.site, CHAIN.c.bay, CHAIN.c.chain, CHAIN.c.inspection)
        ).all()
        begun = connection.execute(
            select(CHAIN.c.site, CHAIN.c.bay, CHAIN.c.chain, CHAIN.c.record).where(
                CHAIN.c.inspection.is_(None)
            )
        ).all()
        doubled = connection.execute(
            select(CHAIN.c.site, CHAIN.c.bay, CHAIN.c.chain, func.min(CHAIN.c.place))
            .group_by(CHAIN.c.site, CHAIN.c.bay, CHAIN.c.chain, CHAIN.c.place)
            .having(func.count() > 1)
        ).all()
    moments = {name: moment for name, text in opened if (moment := _moment(text)) is not None}
    forks: dict[Chain, int] = {}
    for site, bay, chain, place in doubled:
        forks[site, bay, chain] = min(place, forks.get((site, bay, chain), place))
    rows = [((site, bay, chain), place, name, True) for site, bay, chain, name, place in first]
    after = {(site, bay, chain): _after(_read(record)) for site, bay, chain, record in begun}
    return Order(lines_of(rows, after, forks, moments), contradicted_of(database))


Row = tuple[Chain, int, str, bool]
"""Chain, place and inspection of the first record of it there, and whether it is of the first result for
sure."""


def lines_of(
    rows: Iterable[Row],
    begun: Mapping[Chain, str | None],
    forks: Mapping[Chain, int],
    moments: Mapping[str, datetime],
    gaps: Mapping[Chain, int] | None = None,
) -> Lines:
    """As `Order.lines`. begun: of each chain the one that it goes on from; forks: from which place on a chain
    branches, or is broken; moments: when an inspection was opened; gaps: of chains of which records have not
    come yet, or never will, the first such place: an inspection may have been opened there, of which only a
    later result is known."""
    heads = _heads(begun, forks)
    cut = {head: 0 for head in heads if begun.get(head) is not None}
    return _lines([row for row in rows if row[2] in moments], heads, moments, forks, {**(gaps or {}), **cut})


def _heads(begun: Mapping[Chain, str | None], forks: Mapping[Chain, int]) -> dict[Chain, list[Chain]]:
    """The chains of each row of them that go on from each other, by the first; one that two go on from, or
    that forks, is the last of its row."""
    before = {one: (one[0], one[1], after) for one, after in begun.items() if after is not None}
    followed = Counter(before.values())
    next_of = {old: new for new, old in before.items() if followed[old] == 1 and old not in forks}
    rows: dict[Chain, list[Chain]] = {}
    for chain in dict.fromkeys((*begun, *before.values())):
        if next_of.get(before.get(chain, chain)) == chain:
            continue
        row = rows[chain] = [chain]
        while (after_it := next_of.get(row[-1])) is not None and after_it not in row:
            row.append(after_it)
    return rows


def _lines(
    rows: list[Row],
    heads: Mapping[Chain, list[Chain]],
    moments: Mapping[str, datetime],
    forks: Mapping[Chain, int],
    gaps: Mapping[Chain, int],
) -> Lines:
    known = {chain: (head, number) for head, row in heads.items() for number, chain in enumerate(row)}
    # Up to where a row of chains is whole: of what stands beyond an earlier result may be missing.
    whole: dict[Chain, tuple[int, int]] = {}
    for chain, place in gaps.items():
        head, number = known.get(chain, (chain, 0))
        whole[head] = min((number, place), whole.get(head, (number, place)))
    found: dict[Chain, dict[str, tuple[int, int]]] = defaultdict(dict)
    placed: set[tuple[Chain, str]] = set()
    for chain, place, name, is_first in rows:
        head, number = known.get(chain, (chain, 0))
        at = number, place
        found[head][name] = min(at, found[head].get(name, at))
        is_sound = place < forks.get(chain, place + 1)
        if is_sound and (is_first or at < whole.get(head, (number, place + 1))):
            placed.add((head, name))
    count = Counter(name for those in found.values() for name in those)
    return {
        "/".join(head): [
            (name, moments[name])
            for name in sorted(those, key=those.__getitem__)
            if count[name] == 1 and (head, name) in placed
        ]
        for head, those in found.items()
    }


def _contradicted(records: Iterable[dict[str, Any]]) -> dict[str, str]:
    by: dict[tuple[Any, Any], dict[Any, str]] = defaultdict(dict)
    for said in records:
        bay = f"{said.get('site')}/{said.get('bay')}"
        by[said.get("inspection"), said.get("revision")].setdefault(said.get("document_sha256"), bay)
    return {
        str(name): ", ".join(dict.fromkeys(bays.values())) for (name, _), bays in by.items() if len(bays) > 1
    }


def _after(begun: dict[str, Any]) -> str | None:
    after = begun.get("after")
    return str(after.get("chain")) if isinstance(after, dict) else None


def _moment(text: str) -> datetime | None:
    with suppress(ValueError):
        moment = datetime.fromisoformat(text)
        return moment if moment.tzinfo is not None else None
    return None


def _read(record: bytes) -> dict[str, Any]:
    """What a record says; nothing where somebody has spoilt it."""
    with suppress(ValueError):
        said = json.loads(record)
        return said if isinstance(said, dict) else {}
    return {}
