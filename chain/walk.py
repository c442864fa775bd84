"""A bay's chains from their first record on, as one place keeps them, up to the first break."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NoReturn

from chain.breaks import Break, What
from chain.errors import AlteredError
from chain.merkle import grown_from
from chain.signing import digest, read_record
from contract.chain import After, ChainBegun, ChainResult, Checkpoint

Key = tuple[str, int]
"""Inspection and revision."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One record as it is kept. beside: columns that stand beside it and must say what it says; by the names
    of its keys."""

    record: bytes
    beside: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Document:
    """A result document as it is kept. wrong: what does not fit beside it, in words."""

    content: bytes
    wrong: str = ""


@dataclass(slots=True)
class Walked:
    """What was found sound before the break, if there is one.

    chains: the records of each, in the order in which they follow each other. notes: what is no break but
    somebody may want to know, a sentence each. seen: checkpoints that made the bay begin a chain anew.
    """

    kept_in: str
    broken: Break | None = None
    chains: dict[str, list[bytes]] = field(default_factory=dict)
    results: dict[Key, ChainResult] = field(default_factory=dict)
    begun: dict[str, ChainBegun] = field(default_factory=dict)
    seen: list[Checkpoint] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def size(self) -> int:
        return sum(map(len, self.chains.values()))


def walk(
    bay: tuple[str, str],
    kept_in: str,
    entries: Iterable[Entry],
    documents: Mapping[Key, Document],
    *,
    since: str = "",
) -> Walked:
    """Every record in order, with the document that it is of. bay: site and bay, where no record can say it.
    since: the chain to begin with, whatever key it has; those before are left out."""
    walker = _Walker(bay, Walked(kept_in), documents, since)
    for entry in entries:
        try:
            walker.step(entry)
        except _Found as found:
            walker.walked.broken = found.broken
            break
    return walker.walked


def ordered(chains: Mapping[str, Sequence[Entry]]) -> list[Entry]:
    """The records of several chains of one bay, each chain after the one that it says it comes after."""
    begun = {name: beginning(entries) for name, entries in chains.items()}
    placed: list[str] = []
    left = sorted(chains, key=lambda name: (begun[name] or ("", "~"))[1])
    while left:
        ready = (name for name in left if (said := begun[name]) is not None and said[0] in ("", *placed))
        name = next(ready, left[0])
        placed.append(name)
        left.remove(name)
    return [entry for name in placed for entry in chains[name]]


def beginning(entries: Sequence[Entry]) -> tuple[str, str] | None:
    """The chain that a chain comes after (empty: none), and its time; None where its first record is none."""
    try:
        begun = read_record(entries[0].record)
    except AlteredError:
        return None
    if not isinstance(begun, ChainBegun):
        return None
    return (begun.after.chain if begun.after is not None else ""), begun.time


class _Found(Exception):  # noqa: N818 it ends a walk
    def __init__(self, broken: Break) -> None:
        self.broken = broken


class _Walker:
    def __init__(
        self, bay: tuple[str, str], walked: Walked, documents: Mapping[Key, Document], since: str
    ) -> None:
        self.walked, self._documents = walked, documents
        self._bay = bay
        self._chain, self._records = "", list[bytes]()
        self._previous, self._key, self._time = "", "", ""
        self._since, self._is_before = since, bool(since)
        self._was_later = self._has_timely = False

    def step(self, entry: Entry) -> None:
        """One more record; raises _Found where it breaks the chain."""
        try:
            record = read_record(entry.record)
        except AlteredError as error:
            if self._is_before:
                return
            self._unreadable(entry, str(error))
        if self._is_before and record.chain != self._since:
            return
        self._look_beside(record, entry)
        if record.chain != self._chain:
            self._begin(record)
        self._follow(record)
        self._records.append(entry.record)
        self._previous = digest(entry.record)
        if record.time < self._time:
            self._note(record, "its clock was set back before it")
        self._time = record.time
        if isinstance(record, ChainResult):
            self._look_at_document(record)

    def _unreadable(self, entry: Entry, why: str) -> NoReturn:
        """What such a record was of can only be told by what stands beside it."""
        chain = entry.beside.get("chain", self._chain)
        is_next = chain != self._chain
        self._broken(
            "altered-record", why, None, chain=chain, index=0 if is_next else None, order=int(is_next),
            of=(entry.beside.get("inspection"), entry.beside.get("revision")),
        )  # fmt: skip

    def _look_beside(self, record: ChainBegun | ChainResult, entry: Entry) -> None:
        said = record.model_dump()
        for name, beside in entry.beside.items():
            if said.get(name) != beside:
                why = f"beside it stands {name} {beside!r}, and it says {said.get(name)!r}"
                self._broken("altered-record", why, record, index=record.index)

    def _begin(self, record: ChainBegun | ChainResult) -> None:
        walked = self.walked
        if record.chain in walked.chains:
            self._broken("record-twice", "it stands after the chain that follows its own", record)
        is_first = not walked.chains
        self._chain, self._records, self._previous = record.chain, [], ""
        self._bay = record.site, record.bay
        walked.chains[record.chain] = self._records
        if not isinstance(record, ChainBegun):
            self._broken("missing-record", f"the first that is there is record {record.index}")
        if self._is_before:
            self._is_before, self._key = False, record.key
        elif is_first:
            self._key = record.key
            if record.after is not None:
                gone = f"the chain {record.after.chain} before it is not there: --since {record.chain}"
                self._broken("missing-record", f"{gone} leaves it out", record)
        else:
            self._look_after(record, record.after)
        self._note_beginning(record)
        walked.begun[record.chain] = record
        if record.seen is not None:
            walked.seen.append(record.seen)

    def _look_after(self, record: ChainBegun, after: After | None) -> None:
        if after is None or after.chain not in self.walked.chains:
            self._broken("missing-record", "it does not say which chain it comes after", record)
        before = self.walked.chains[after.chain]
        if len(before) < after.size:
            why = f"chain {record.chain} comes after {after.size} records of it, and {len(before)} are there"
            self._broken("missing-record", why, chain=after.chain, index=len(before), order=-1)
        if grown_from(before[: after.size]).root().hex() != after.root:
            why = f"chain {record.chain} comes after other records than those that are there"
            self._broken("altered-record", why, chain=after.chain, index=after.size - 1, order=-1)
        if record.key != self._key:
            self._broken(
                "other-key",
                f"this chain is signed by {record.key[:16]}, the one before by {self._key[:16]}; where you "
                f"know why (a key that was lost, a bay set up anew), --since {record.chain} begins there",
                record,
            )

    def _follow(self, record: ChainBegun | ChainResult) -> None:
        index = len(self._records)
        if record.index > index:
            self._broken("missing-record", f"record {record.index} comes next")
        if record.index < index or (index > 0 and isinstance(record, ChainBegun)):
            why = "another one of this place: the chain has forked, or the order was changed"
            self._broken("record-twice", why, record, index=record.index)
        if record.key != self._key:
            self._broken(
                "other-key", f"it is signed by {record.key[:16]}, the chain by {self._key[:16]}", record
            )
        if record.previous != self._previous:
            why = "the next one names another in this place" if index else "it names one before it"
            self._broken("altered-record", why, index=max(index - 1, 0))
        if (record.site, record.bay) != self._bay:
            self._broken("altered-record", f"it is of {record.site}/{record.bay}", record)

    def _look_at_document(self, record: ChainResult) -> None:
        document = self._documents.get((record.inspection, record.revision))
        if document is None:
            self._broken("missing-document", "its result is not there", record, index=record.index)
        found = digest(document.content)
        if document.wrong or found != record.document_sha256:
            why = f"SHA-256 {found[:16]}…, signed was {record.document_sha256[:16]}…"
            why = document.wrong or why
            self._broken("altered-document", why, record, index=record.index)
        self.walked.results[record.inspection, record.revision] = record
        is_usual = self.walked.begun[record.chain].why == "first" and not self._has_timely
        if record.later and not self._was_later and not is_usual:
            why = "results were taken up later than they were issued, from this one on: the key could not be "
            self._note(record, f"{why}used then, or somebody put them into the journal")
        self._was_later = record.later
        self._has_timely |= not record.later

    def _note_beginning(self, record: ChainBegun) -> None:
        because = {
            "first": "",
            "restored": "the journal was put back from a copy",
            "other-key": "the key is another",
            "renamed": "site or bay were called otherwise",
            "contradicted": "a checkpoint was seen that the journal contradicts",
        }[record.why]
        if because:
            self._note(record, f"a chain begins anew: {because}")

    def _note(self, record: ChainBegun | ChainResult, what: str) -> None:
        place = f"{record.site}/{record.bay}, record {record.index} of chain {record.chain}"
        self.walked.notes.append(f"{place} ({record.time}): {what}")

    def _broken(
        self,
        what: What,
        why: str,
        record: ChainBegun | ChainResult | None = None,
        *,
        chain: str | None = None,
        index: int | None = None,
        order: int = 0,
        of: tuple[str | None, int | None] = (None, None),
    ) -> NoReturn:
        walked = self.walked
        if isinstance(record, ChainResult):
            of = record.inspection, record.revision
        raise _Found(
            Break(
                what, walked.kept_in, *self._bay, chain or self._chain,
                len(self._records) if index is None else index, why,
                *of, order=max(len(walked.chains) - 1 + order, 0),
            )
        )  # fmt: skip
