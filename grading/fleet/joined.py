"""Which readers can be compared at all: those that are joined by dampers that they shared."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Protocol


class ReadBy(Protocol):
    """One figure, by whom."""

    @property
    def reader(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Group:
    """Readers that are joined, in the order of their names; shared: dampers that each read and another of
    them too; figures: of each, of all its dampers."""

    readers: tuple[str, ...]
    shared: tuple[int, ...]
    figures: tuple[int, ...]


def groups_of(dampers: Iterable[Collection[ReadBy]]) -> tuple[Group, ...]:
    """The groups of two readers and more. dampers: of each, what was read of it."""
    head: dict[str, str] = {}
    shared: dict[str, int] = {}
    figures: dict[str, int] = {}

    def first(reader: str) -> str:
        while head[reader] != reader:
            head[reader] = head[head[reader]]
            reader = head[reader]
        return reader

    for those in dampers:
        readers = sorted({one.reader for one in those})
        for one in those:
            figures[one.reader] = figures.get(one.reader, 0) + 1
        for reader in readers:
            head.setdefault(reader, reader)
            head[first(reader)] = first(readers[0])
            shared[reader] = shared.get(reader, 0) + (len(readers) > 1)
    members: dict[str, list[str]] = {}
    for reader in sorted(head):
        members.setdefault(first(reader), []).append(reader)
    return tuple(
        Group(tuple(one), tuple(shared[r] for r in one), tuple(figures[r] for r in one))
        for one in members.values()
        if len(one) > 1
    )
