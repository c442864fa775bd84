"""What becomes of the register when rows come in: all of them, or none where one is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from contract.serials import bare
from records.register.columns import TABLES, Cell, Key, Row, TableName, key_of, key_words

Rows = dict[Key, Row]
Book = Mapping[TableName, Rows]
"""All of the register, each table's rows by their keys."""


@dataclass(frozen=True, slots=True)
class Incoming:
    """A row as it comes in. line: of its file; None where it comes by itself. row: its columns; those that
    are missing stay as they are."""

    line: int | None
    row: Row


@dataclass(frozen=True, slots=True)
class Wrong:
    """One mistake: where it stands, what was found, what was expected."""

    line: int | None
    column: str
    found: str
    expected: str


@dataclass(frozen=True, slots=True)
class Merged:
    """new, changed, removed: what to write. same: how many were there already. wrong: where there is any,
    nothing may be written."""

    new: tuple[Row, ...]
    changed: tuple[Row, ...]
    removed: tuple[Row, ...]
    same: int
    wrong: tuple[Wrong, ...]


def merged(
    book: Book, table: TableName, incoming: Sequence[Incoming], triggers: Iterable[str], *, whole: bool
) -> Merged:
    """The table with the rows put in. triggers: the ids that an event may have. whole: what does not come in
    is taken out."""
    before = book[table]
    lines: dict[Key, int | None] = {}
    rows: Rows = {} if whole else dict(before)
    wrong: list[Wrong] = []
    for one in incoming:
        key = key_of(table, one.row)
        if key in lines:
            wrong.append(_doubled(table, key, one.line, lines[key]))
            continue
        lines[key] = one.line
        empty = {column.name: column.empty for column in TABLES[table]}
        rows[key] = {**empty, **before.get(key, {}), **one.row}
        wrong += _unknown(book, table, one, set(triggers))
    wrong += _orphans(book, table, rows)
    if table in ("engines", "dampers"):
        wrong += _twins(table, rows, lines)
    if table == "readings":
        wrong += _silent(rows, lines)
        for column in ("distance_km", "hours_h"):
            wrong += _falling(rows, lines, column)
    if table == "fittings":
        wrong += _in_two_places(rows, lines)
    return Merged(
        new=tuple(rows[key] for key in rows if key not in before),
        changed=tuple(rows[key] for key in rows if key in before and rows[key] != before[key]),
        removed=tuple(before[key] for key in before if key not in rows),
        same=sum(rows[key] == before.get(key) for key in lines),
        wrong=tuple(sorted(wrong, key=lambda one: one.line or 0)),
    )


def _doubled(table: TableName, key: Key, line: int | None, first: int | None) -> Wrong:
    column = next(column.name for column in TABLES[table] if column.is_key)
    return Wrong(line, column, f"{key_words(key)} again", f"each once (it stands on line {first} already)")


def _unknown(book: Book, table: TableName, one: Incoming, triggers: set[str]) -> Iterator[Wrong]:
    for column in TABLES[table]:
        cell = one.row.get(column.name)
        if column.refers is not None and (cell,) not in book[column.refers]:
            thing = "an engine" if column.refers == "engines" else "a damper"
            expected = f"{thing} of the register (import {column.refers} first, or mend the serial)"
            yield Wrong(one.line, column.name, str(cell), expected)
        # One that is on record already may be of a method of before.
        if column.kind == "trigger" and cell not in triggers and key_of(table, one.row) not in book[table]:
            known = f"one of the method's triggers ({', '.join(sorted(triggers)) or 'it has none'})"
            yield Wrong(one.line, column.name, str(cell), known)


def _orphans(book: Book, table: TableName, rows: Rows) -> Iterator[Wrong]:
    """Rows that would be taken out while others name them."""
    for key in book[table]:
        if key in rows:
            continue
        users = [
            other
            for other, columns in TABLES.items()
            for column in columns
            if column.refers == table and any(row[column.name] == key[0] for row in book[other].values())
        ]
        if users:
            yield Wrong(None, table, f"no row of {key_words(key)}", f"one, as {' and '.join(users)} name it")


def _twins(table: TableName, rows: Rows, lines: Mapping[Key, int | None]) -> Iterator[Wrong]:
    """Serials that differ by capitals or spaces alone, and what they stand for by what limits go by: whoever
    opens an inspection with the wrong one has the looser limits."""
    known: dict[str, Key] = {}
    for key in sorted(rows, key=lambda key: key in lines):  # what comes in after what is there
        other = known.setdefault(bare(str(key[0])), key)
        for column in TABLES[table]:
            mine, its = rows[key][column.name], rows[other][column.name]
            if key in lines and column.kind in ("choice", "number") and mine != its:
                expected = f"{its or 'nothing'}, as of {other[0]}: it differs by capitals or spaces alone"
                yield Wrong(lines[key], column.name, str(mine or "nothing"), expected)


def _silent(rows: Rows, lines: Mapping[Key, int | None]) -> Iterator[Wrong]:
    for key, line in lines.items():
        if rows[key]["distance_km"] is None and rows[key]["hours_h"] is None:
            yield Wrong(line, "distance_km", "nothing, nor hours_h", "at least one of the two")


def _falling(rows: Rows, lines: Mapping[Key, int | None], column: str) -> Iterator[Wrong]:
    """Counters only go up. Told at the later row, where that is one of those that come in."""
    known = [key for key in rows if rows[key][column] is not None]
    known.sort(key=lambda key: [str(part) for part in key])
    for a, b in pairwise(known):
        low, high = _number(rows[a][column]), _number(rows[b][column])
        if a[0] != b[0] or high >= low or (a not in lines and b not in lines):
            continue
        where = f" (line {lines[a]})" if lines.get(a) is not None and b in lines else ""
        if b in lines:
            yield Wrong(lines[b], column, f"{high:g}", f"at least {low:g}, as read on {a[1]}{where}")
        else:
            yield Wrong(lines[a], column, f"{low:g}", f"at most {high:g}, as read on {b[1]}")


def _number(cell: Cell) -> float:
    assert isinstance(cell, float)
    return cell


def _in_two_places(rows: Rows, lines: Mapping[Key, int | None]) -> Iterator[Wrong]:
    places: dict[tuple[Cell, Cell], Key] = {}
    for key in sorted(rows, key=lambda key: key in lines):  # what comes in after what is there
        place = rows[key]["damper"], key[1]
        other = places.setdefault(place, key)
        if other is not key and key in lines:
            found = f"{place[0]} on {other[0]} and on {key[0]} on {key[1]}"
            yield Wrong(lines[key], "damper", found, "each damper on one engine a day")
