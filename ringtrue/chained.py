"""What journal and records keep of bays' chains, as `chain.verify` takes it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from acquire.journal.outgoing import CHAIN
from acquire.journal.reader import JournalReader
from chain.breaks import Break
from chain.verify import Kept
from chain.walk import Document, Entry, Key, beginning, ordered
from records.chained import Row, chain_rows, result_rows
from records.store import Store

Bay = tuple[str, str]
WAITING_MAX = 2**31
"""All that waits."""


@dataclass(frozen=True, slots=True)
class Stored:
    """A database of records. chains: by name, as the columns say it; bays: whose each is, likewise."""

    chains: Mapping[str, list[Entry]]
    bays: Mapping[str, Bay]
    documents: Mapping[Key, Document]
    of: Mapping[Key, Bay]


def stored_in(store: Store) -> Stored:
    """All of it."""
    chains: dict[str, list[Entry]] = {}
    bays: dict[str, Bay] = {}
    for row in chain_rows(store):
        beside = {name: value for name, value in row.columns.items() if name not in ("sha256", "place")}
        if not row.is_as_stored:
            beside["sha256"] = row.columns["sha256"]
        entry = Entry(row.content, beside | {"index": row.columns["place"]})
        chains.setdefault(row.columns["chain"], []).append(entry)
        bays.setdefault(row.columns["chain"], (row.columns["site"], row.columns["bay"]))
    documents: dict[Key, Document] = {}
    of: dict[Key, Bay] = {}
    for row in result_rows(store):
        key = row.columns["inspection"], row.columns["revision"]
        documents[key] = Document(row.content, _wrong(row))
        of[key] = row.columns["site"], row.columns["bay"]
    return Stored(chains, bays, documents, of)


def kept_in_journal(journal: JournalReader) -> Kept:
    """The journal's own."""
    entries = [
        Entry(one.record, {"chain": one.chain, "inspection": one.inspection, "revision": one.revision})
        for one in journal.chain()
    ]
    documents = {(one.inspection, one.revision): Document(one.document) for one in journal.results()}
    return Kept("journal", entries, documents, frozenset(documents))


def kept_in_records(stored: Stored, names: Iterable[str], bays: Iterable[Bay], waiting: Kept) -> Kept:
    """Of the chains of these names and the results of these bays; what waits for delivery counts as there."""
    chains = {name: list(stored.chains[name]) for name in names if name in stored.chains}
    there = {entry.record for entries in chains.values() for entry in entries}
    for entry in waiting.entries:
        if entry.record not in there:
            chains.setdefault(entry.beside["chain"], []).append(entry)
            chains[entry.beside["chain"]].sort(key=_place)
    own = set(bays)
    return Kept(
        "records",
        ordered(chains),
        {**waiting.documents, **stored.documents},
        frozenset(key for key, bay in stored.of.items() if bay in own),
    )


def waiting_in(journal: JournalReader) -> Kept:
    """What is on its way from the journal to the records."""
    entries, documents = [], {}
    for row in journal.waiting("records", WAITING_MAX):
        try:
            said = json.loads(row.payload)
            if row.topic == CHAIN:
                entries.append(Entry(row.payload, {"chain": said["chain"], "index": said["index"]}))
            else:
                documents[said["inspection"], said["revision"]] = Document(row.payload)
        except (ValueError, KeyError, TypeError):
            continue  # somebody has spoilt it: it will not arrive
    return Kept("records", entries, documents, frozenset())


def lineages(stored: Stored) -> Iterator[tuple[Bay, list[str]]]:
    """The chains of each bay, those that it signed under another name before included."""
    groups: dict[str, list[str]] = {}
    for name in stored.chains:
        first = name
        for _ in stored.chains:
            said = beginning(stored.chains[first])
            if said is None or said[0] not in stored.chains:
                break
            first = said[0]
        groups.setdefault(first, []).append(name)
    by_bay: dict[Bay, list[str]] = {}
    for first, names in groups.items():
        by_bay.setdefault(stored.bays[first], []).extend(names)
    yield from sorted(by_bay.items())


def unchained(stored: Stored) -> Iterator[tuple[Bay, Break]]:
    """Each bay of which there are results and not one record of a chain: nothing shows who issued them."""
    chained = set(stored.bays.values())
    for bay in sorted(set(stored.of.values()) - chained):
        inspection, revision = min(key for key, whose in stored.of.items() if whose == bay)
        why = "this bay has no chain here: it was put in, or its daemon is of before there was one"
        yield bay, Break("document-without-record", "records", *bay, "", 0, why, inspection, revision)


def _place(entry: Entry) -> int:
    place = entry.beside.get("index")
    return place if isinstance(place, int) else -1


def _wrong(row: Row) -> str:
    if row.is_as_stored:
        return ""
    if row.follows is None:
        return "it is no result document"
    odd = [name for name, value in row.columns.items() if row.follows[name] != value]
    return f"beside it stands another {', '.join(odd)} than it says"
