"""Whose signatures hold, of the messages of a batch: as few verified as prove all of them.

A record holds the SHA-256 of the whole record before it. Where its own signature holds, whoever has the key
signed that the one before is these very bytes, so that one needs no proof of its own: of records that follow
each other the last is verified, and of a batch's backlog a fraction. A record that was altered is named by
none, is verified by itself, and refused.

What is named so may have a wrong signature of its own still: then whoever has the key named it, a bay at
fault, and who reads that record alone finds it. A checkpoint's root would prove as much of all records that
it covers, and save the one signature that is left of them. It is not taken for proof: such a record would
never be refused then, where now the last of each batch is.

Of a chain's checkpoints the largest is verified. Nothing names the others: whether one of them is needed, and
then whether its signature holds, is found where the chain is walked (`verifying`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from msgspec.structs import replace
from nacl.bindings import crypto_sign_open
from nacl.exceptions import BadSignatureError

from chain.errors import AlteredError
from chain.signing import holds, refuse_unless_holds
from records.fleet.reading import Read, Record, Refused, Told


def prove(reads: Sequence[Read]) -> list[Read]:
    """The same, the records that nobody signed refused."""
    found = list(reads)
    _prove_records(found)
    _prove_largest(found)
    return found


def quickly(key: bytes, signature: bytes, signed: bytes) -> bool:
    """As `chain.signing.holds`, at two fifths of its cost. This library is the stricter one (it takes no key
    and no signature of small order); what it refuses is for the other to say, as everywhere else."""
    try:
        crypto_sign_open(signature + signed, key)
    except (BadSignatureError, ValueError):
        return holds(key, signature, signed)
    return True


def proven(one: Told) -> Told | Refused:
    """A checkpoint whose signature holds."""
    try:
        refuse_unless_holds(one.payload, one.said, quickly)
    except AlteredError as error:
        return Refused(one.topic, one.payload, "altered", str(error))
    return replace(one, is_proven=True)


def _prove_records(reads: list[Read]) -> None:
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
                refuse_unless_holds(one.payload, said, quickly)
            except AlteredError as error:
                reads[n] = Refused(one.topic, one.payload, "altered", str(error))
                continue
        by.add(said.previous)


def _prove_largest(reads: list[Read]) -> None:
    done: set[tuple[str, str, str, str]] = set()
    told = sorted(
        ((one.said.size, n, one) for n, one in enumerate(reads) if isinstance(one, Told)), reverse=True
    )
    for _, n, one in told:
        said = one.said
        of = said.site, said.bay, said.chain, said.key
        if of not in done:
            reads[n] = found = proven(one)
            if isinstance(found, Told):
                done.add(of)
