"""Values in PostgreSQL's binary form, packed here: what the driver does item by item, at once.

As rows of a COPY, and as an array for each column of many rows. The form is each type's own `recv`
function's (PostgreSQL, 55.2, COPY, and src/backend/utils/adt/*_recv): big-endian, each value after its
length, an array with its dimensions before it.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from itertools import chain, repeat
from typing import Any, Literal

import psycopg
from psycopg.abc import Buffer
from psycopg.adapt import Dumper
from psycopg.pq import Format

Kind = Literal[
    "text", "integer", "bigint", "double precision", "boolean", "date", "timestamptz", "bytea",
    "text[]", "double precision[]",
]  # fmt: skip
"""Of PostgreSQL's types those that the tables have."""
Column = Kind | tuple[Kind, ...] | Literal["text once"]
"""One, or several whose values come again together and so are remembered together; or text of which hardly
any comes again."""


class Packed(bytes):
    """An array as PostgreSQL has it; the statement says of what (`%(name)s::text[]`)."""


class _PackedDumper(Dumper):
    format = Format.BINARY

    def dump(self, obj: Packed) -> Buffer:
        return obj


def packed(kind: Kind, values: Collection[Any]) -> Packed:
    """One column; None is NULL. Raises psycopg.DataError where one is none of its kind."""
    with _refused(kind):
        return Packed(_array(_NUMBERS[kind], Memo().encoder(kind), values))


class Packing:
    """Rows as COPY takes them (FORMAT binary): `BEGIN`, then rows, some at a time, then `END`. columns: a row
    is a tuple of their values, of several together a tuple within it."""

    BEGIN, END = b"PGCOPY\n\xff\r\n\0" + bytes(8), struct.pack(">h", -1)

    def __init__(self, columns: Sequence[Column], memo: Memo | None = None) -> None:
        memo = memo or Memo()
        number = sum(len(one) if isinstance(one, tuple) else 1 for one in columns)
        self._number = repeat(struct.pack(">h", number))
        self._encoders = [memo.encoder(one) for one in columns]

    def rows(self, rows: Collection[tuple[Any, ...]]) -> bytes:
        """Raises psycopg.DataError where a value is none of its column's kind."""
        # A column's values come one after another from C: a loop over them here would cost as much again.
        with _refused("row of these tables"):
            columns = map(map, self._encoders, zip(*rows, strict=True))
            return b"".join(chain.from_iterable(zip(self._number, *columns, strict=False)))


def register() -> None:
    """Have every connection that is made from now on take them."""
    psycopg.adapters.register_dumper(Packed, _PackedDumper)


@contextmanager
def _refused(what: str) -> Iterator[None]:
    try:
        yield
    except (struct.error, OverflowError, UnicodeError) as error:
        raise psycopg.DataError(f"no {what}: {error}") from None


def _array(number: int, encode: Callable[[Any], bytes], values: Collection[Any]) -> bytes:
    """number: of its items' type; encode: takes None too."""
    if not values:
        return _NONE(0, 0, number)
    return _ARRAY(1, None in values, number, len(values), 1) + b"".join(map(encode, values))


def _text(value: str) -> bytes:
    said = value.encode()
    return _LENGTH(len(said)) + said


def _bytes(value: bytes) -> bytes:
    return _LENGTH(len(value)) + value


def _doubles(values: Sequence[float | None] | None) -> bytes:
    if values is None:
        return _NULL
    if not values:
        return _bytes(_NONE(0, 0, _NUMBERS["double precision"]))
    items = b"".join([_NULL if value is None else _DOUBLE(8, value) for value in values])
    return _DOUBLES(20 + len(items), 1, None in values, 701, len(values), 1) + items


class Memo:
    """Encoders that remember what they were given: in rows that come together most values come again. (Of
    what is equal the first is remembered: 0.0 may be packed for -0.0.)"""

    def __init__(self) -> None:
        self._known: dict[Column, _Known] = {}

    def encoder(self, kind: Column) -> Callable[[Any], bytes]:
        """None is NULL."""
        if isinstance(kind, tuple):
            each_of = [self.encoder(one) for one in kind]
            of = self._known.setdefault(
                kind,
                _Known(lambda all_of: b"".join([e(one) for e, one in zip(each_of, all_of, strict=True)])),
            )
            return of.__getitem__
        if kind == "bytea":
            return lambda value: _NULL if value is None else _LENGTH(len(value)) + value
        if kind == "text once":
            return lambda value: _NULL if value is None else _text(value)
        if kind == "double precision[]":  # figures, which hardly ever come again
            return _doubles
        if kind == "text[]":
            number, each = _NUMBERS["text"], self.encoder("text")
            known = self._known.setdefault(kind, _Known(lambda items: _bytes(_array(number, each, items))))
            return lambda items: _NULL if items is None else known[tuple(items)]
        return self._known.setdefault(kind, _Known(_KINDS[kind])).__getitem__


class _Known(dict[Any, bytes]):
    def __init__(self, encode: Callable[[Any], bytes]) -> None:
        super().__init__({None: _NULL})
        self._encode = encode

    def __missing__(self, value: Any) -> bytes:
        found = self[value] = self._encode(value)
        return found


def _fixed(form: str) -> Callable[[Any], bytes]:
    """A number of this form, after its length."""
    size, pack = struct.calcsize(f">{form}"), struct.Struct(f">i{form}").pack
    return lambda value: pack(size, value)


_NULL = struct.pack(">i", -1)
_LENGTH, _NONE = struct.Struct(">i").pack, struct.Struct(">iii").pack
_ARRAY = struct.Struct(">iiiii").pack
_DOUBLE, _DOUBLES = struct.Struct(">id").pack, struct.Struct(">iiiiii").pack
_DAY, _MOMENT = date(2000, 1, 1).toordinal(), datetime(2000, 1, 1, tzinfo=UTC)
_TICK = timedelta(microseconds=1)
_integer, _bigint, _double = _fixed("i"), _fixed("q"), _fixed("d")
_KINDS: dict[Kind, Callable[[Any], bytes]] = {
    "text": _text,
    "integer": _integer,
    "bigint": _bigint,
    "double precision": _double,
    "boolean": _fixed("?"),
    "date": lambda day: _integer(day.toordinal() - _DAY),
    "timestamptz": lambda moment: _bigint((moment - _MOMENT) // _TICK),
    "bytea": _bytes,
}
_NUMBERS: dict[Kind, int] = {
    # pg_type.dat
    "text": 25, "integer": 23, "bigint": 20, "double precision": 701, "boolean": 16, "date": 1082,
    "timestamptz": 1184, "bytea": 17,
}  # fmt: skip
