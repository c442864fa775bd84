"""In which order each bay of a fleet opened its inspections, and which results contradict."""

from __future__ import annotations

from sqlalchemy import exists, func, select

from records.fleet.database import Fleet
from records.fleet.tables import BREAKS, CHAIN, RESULTS, WALKED
from records.order import Chain, Order, lines_of

BRANCHED = "record-twice", "altered-record", "checkpoint"
"""From such a break on a chain's order is nobody's word: two records in a place, or a root not theirs."""
_OF = CHAIN.c.site, CHAIN.c.bay, CHAIN.c.chain


def order_of_fleet(fleet: Fleet) -> Order:
    """As the chains that its writers filed tell it. Raises RecordsUnavailableError."""
    with fleet.transaction() as connection:
        opened = connection.execute(
            select(RESULTS.c.inspection, func.max(RESULTS.c.opened)).group_by(RESULTS.c.inspection)
        ).all()
        first = connection.execute(
            select(*_OF, func.min(CHAIN.c.place), CHAIN.c.inspection, func.min(CHAIN.c.revision) <= 1)
            .where(CHAIN.c.inspection.is_not(None))
            .group_by(*_OF, CHAIN.c.inspection)
        ).all()
        begun = connection.execute(
            select(*_OF, CHAIN.c.after_chain, CHAIN.c.after_size).where(CHAIN.c.inspection.is_(None))
        ).all()
        there = connection.execute(select(*_OF, func.max(CHAIN.c.place) + 1).group_by(*_OF)).all()
        walked = connection.execute(
            select(WALKED.c.site, WALKED.c.bay, WALKED.c.chain, func.max(WALKED.c.size)).group_by(
                WALKED.c.site, WALKED.c.bay, WALKED.c.chain
            )
        ).all()
        broken = connection.execute(
            select(BREAKS.c.site, BREAKS.c.bay, BREAKS.c.chain, func.min(BREAKS.c.place))
            .where(BREAKS.c.what.in_(BRANCHED))
            .group_by(BREAKS.c.site, BREAKS.c.bay, BREAKS.c.chain)
        ).all()
        twice = connection.execute(
            select(CHAIN.c.site, CHAIN.c.bay, CHAIN.c.inspection)
            .where(CHAIN.c.inspection.is_not(None))
            .group_by(CHAIN.c.site, CHAIN.c.bay, CHAIN.c.inspection, CHAIN.c.revision)
            .having(func.count(CHAIN.c.document_sha256.distinct()) > 1)
        ).all()
        # Of two records for one place of a chain the second is not among those that are kept.
        same = (CHAIN.c[name] == BREAKS.c[name] for name in ("site", "bay", "inspection"))
        forked = connection.execute(
            select(BREAKS.c.site, BREAKS.c.bay, BREAKS.c.inspection).where(
                BREAKS.c.what == "record-twice", exists().where(*same)
            )
        ).all()
    forks: dict[Chain, int] = {(site, bay, chain): place for site, bay, chain, place in broken}
    reached: dict[Chain, int] = {(site, bay, chain): size for site, bay, chain, size in walked}
    sizes: dict[Chain, int] = {(site, bay, chain): size for site, bay, chain, size in there}
    for site, bay, _, after, size in begun:
        if after is not None:
            old = site, bay, after
            sizes[old] = max(size, sizes.get(old, 0))
    return Order(
        lines_of(
            [((site, bay, chain), place, name, sure) for site, bay, chain, place, name, sure in first],
            {(site, bay, chain): after for site, bay, chain, after, _ in begun},
            forks,
            dict(opened),
            {chain: place for chain, size in sizes.items() if (place := reached.get(chain, 0)) < size},
        ),
        {name: f"{site}/{bay}" for site, bay, name in (*twice, *forked)},
    )
