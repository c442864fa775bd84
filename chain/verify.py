"""All of a bay's chains as journal and records keep them: the first break, or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from chain.breaks import Break, What, first
from chain.merkle import grown_from
from chain.signing import read_record
from chain.walk import Document, Entry, Key, Walked, walk
from contract.chain import Checkpoint


@dataclass(frozen=True, slots=True)
class Kept:
    """What one place keeps of one bay: `journal` or `records`. documents: what the chain may name; own: those
    of them that it must."""

    kept_in: str
    entries: Sequence[Entry]
    documents: Mapping[Key, Document]
    own: frozenset[Key]


@dataclass(frozen=True, slots=True)
class Verified:
    """broken: the first break. records, results: how many were found sound before it."""

    broken: Break | None
    records: int
    results: int
    notes: tuple[str, ...]


def verify(
    bay: tuple[str, str], places: Sequence[Kept], checkpoints: Iterable[Checkpoint], *, since: str = ""
) -> Verified:
    """Walk one bay's chains where they are kept, hold the places against each other, and against checkpoints
    of this bay. places: the journal first, where both are there."""
    walks = [walk(bay, kept.kept_in, kept.entries, kept.documents, since=since) for kept in places]
    broken = first(*(walked.broken for walked in walks))
    if len(walks) == 2:
        broken = first(broken, _apart(bay, walks[0], walks[1]))
    for walked, kept in zip(walks, places, strict=True):
        broken = broken or _without_record(bay, walked, kept, since)
    longest = max(walks, key=lambda walked: walked.size)
    for checkpoint in [*longest.seen, *checkpoints]:
        broken = broken or _held(longest, checkpoint, since)
    notes = tuple(dict.fromkeys(note for walked in walks for note in walked.notes))
    return Verified(broken, longest.size, len(longest.results), notes)


def _apart(bay: tuple[str, str], journal: Walked, records: Walked) -> Break | None:
    """Where one place holds a record that the other lacks; only as far as both were found sound."""
    for order, name in enumerate(dict.fromkeys([*journal.chains, *records.chains])):
        ours, theirs = journal.chains.get(name, []), records.chains.get(name, [])
        for index, (one, other) in enumerate(zip(ours, theirs, strict=False)):
            if one != other:  # both are signed: the chain has forked
                why = "journal and records hold different ones: the chain has forked"
                return _of(bay, "record-twice", "records", name, index, why, other, order)
        if len(ours) > len(theirs) and _is_over(records, name):
            why = "the journal holds it"
            return _of(bay, "missing-record", "records", name, len(theirs), why, ours[len(theirs)], order)
        is_left_behind = _is_left_behind(journal, name, len(ours))
        if len(theirs) > len(ours) and _is_over(journal, name) and not is_left_behind:
            why = "the records hold it"
            return _of(bay, "missing-record", "journal", name, len(ours), why, theirs[len(ours)], order)
    return None


def _is_over(walked: Walked, name: str) -> bool:
    """Whether a walk came to the end of a chain, and did not break off in it."""
    return walked.broken is None or (name in walked.chains and name != list(walked.chains)[-1])


def _is_left_behind(journal: Walked, name: str, size: int) -> bool:
    """Whether a later chain of the journal says that it begins after that many records: what the records hold
    beyond was issued after the copy was made that the journal was put back from."""
    after = [begun.after for begun in journal.begun.values()]
    return any(one is not None and (one.chain, one.size) == (name, size) for one in after)


def _without_record(bay: tuple[str, str], walked: Walked, kept: Kept, since: str) -> Break | None:
    if since or walked.broken is not None:
        return None
    for inspection, revision in sorted(kept.own - walked.results.keys()):
        why = "no record of the chain names it: it was put in, or is of a journal that is gone"
        return Break(
            "document-without-record", kept.kept_in, *bay, "", walked.size, why, inspection, revision
        )
    return None


def _held(walked: Walked, checkpoint: Checkpoint, since: str) -> Break | None:
    """Whether a checkpoint that somebody kept is one of these chains."""
    name, size = checkpoint.chain, checkpoint.size
    records = walked.chains.get(name)
    where = checkpoint.site, checkpoint.bay, name
    what = f"a checkpoint of {size} records, made {checkpoint.time},"
    if records is None:
        if since:
            return None
        return Break("checkpoint", walked.kept_in, *where, 0, f"{what} is of a chain that is not there")
    if read_record(records[0]).key != checkpoint.key:
        return Break("other-key", walked.kept_in, *where, 0, f"{what} is signed by {checkpoint.key[:16]}")
    if len(records) < size:
        why = f"{what} was kept, and {len(records)} are there"
        return Break("missing-record", walked.kept_in, *where, len(records), why)
    if grown_from(records[:size]).root().hex() != checkpoint.root:
        why = f"{what} does not hold: one of the first {size} records is another than it was then"
        return Break("checkpoint", walked.kept_in, *where, size - 1, why)
    return None


def _of(
    bay: tuple[str, str], what: What, kept_in: str, chain: str, index: int, why: str, said: bytes, order: int
) -> Break:
    record = read_record(said)
    inspection, revision = getattr(record, "inspection", None), getattr(record, "revision", None)
    return Break(what, kept_in, *bay, chain, index, why, inspection, revision, order)
