"""Whose signatures hold, of the records of a batch: as few verified as prove all of them.

A record holds the SHA-256 of the whole record before it. Where its own signature holds, whoever has the key
signed that the one before is these very bytes, so that one needs no proof of its own: of records that follow
each other the last is verified, and of a batch's backlog a fraction. A record that was altered is named by
none, is verified by itself, and refused.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from chain.errors import AlteredError
from chain.signing import refuse_unless_holds
from records.fleet.reading import Read, Record, Refused


def prove(reads: Sequence[Read]) -> list[Read]:
    """The same, the records that nobody signed refused."""
    refused: dict[int, Refused] = {}
    # By site, bay, chain and key: the hashes that records name whose signature holds, or that are named.
    named: defaultdict[tuple[str, str, str, str], set[str]] = defaultdict(set)
    records = sorted(
        ((one.said.index, n, one) for n, one in enumerate(reads) if isinstance(one, Record)), reverse=True
    )
    for _, n, one in records:
        said = one.said
        by = named[said.site, said.bay, said.chain, said.key]
        if one.sha256 not in by:
            try:
                refuse_unless_holds(one.payload, said)
            except AlteredError as error:
                refused[n] = Refused(one.topic, one.payload, "altered", str(error))
                continue
        by.add(said.previous)
    return [refused.get(n, one) for n, one in enumerate(reads)]
