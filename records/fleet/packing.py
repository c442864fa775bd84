"""Columns of many rows as arrays in PostgreSQL's binary form: what the driver does item by item, at once.

The form is each type's own `recv` function's (PostgreSQL, 55.2 and src/backend/utils/adt/*_recv): big-endian,
an array with its dimensions before it.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Collection
from datetime import UTC, date, datetime, timedelta
from typing import Any, Literal

import psycopg
from psycopg.abc import Buffer
from psycopg.adapt import Dumper
from psycopg.pq import Format

Kind = Literal["text", "integer", "bigint", "double precision", "boolean", "date", "timestamptz", "bytea"]
"""Of PostgreSQL's types those that the tables have."""


class Packed(bytes):
    """An array as PostgreSQL has it; the statement says of what (`%(name)s::text[]`)."""


class _PackedDumper(Dumper):
    format = Format.BINARY

    def dump(self, obj: Packed) -> Buffer:
        return obj


def packed(kind: Kind, values: Collection[Any]) -> Packed:
    """One column; None is NULL. Raises psycopg.DataError where one is none of its kind."""
    number, encode = _KINDS[kind]
    parts: list[bytes] = []
    add, has_null = parts.append, 0
    try:
        for value in values:
            if value is None:
                add(_NULL)
                has_null = 1
            else:
                one = encode(value)
                add(_LENGTH(len(one)))
                add(one)
    except (struct.error, OverflowError, UnicodeError) as error:
        raise psycopg.DataError(f"no {kind}: {error}") from None
    head = struct.pack(">iiiii", 1, has_null, number, len(values), 1) if values else _NONE(0, 0, number)
    return Packed(b"".join((head, *parts)))


def register() -> None:
    """Have every connection that is made from now on take them."""
    psycopg.adapters.register_dumper(Packed, _PackedDumper)


_NULL = struct.pack(">i", -1)
_LENGTH, _NONE = struct.Struct(">i").pack, struct.Struct(">iii").pack
_DAY, _MOMENT = date(2000, 1, 1).toordinal(), datetime(2000, 1, 1, tzinfo=UTC)
_TICK = timedelta(microseconds=1)
_BIGINT = struct.Struct(">q").pack
_KINDS: dict[Kind, tuple[int, Callable[[Any], bytes]]] = {
    # Numbers of types: pg_type.dat.
    "text": (25, str.encode),
    "integer": (23, struct.Struct(">i").pack),
    "bigint": (20, _BIGINT),
    "double precision": (701, struct.Struct(">d").pack),
    "boolean": (16, struct.Struct(">?").pack),
    "date": (1082, lambda day: _LENGTH(day.toordinal() - _DAY)),
    "timestamptz": (1184, lambda moment: _BIGINT((moment - _MOMENT) // _TICK)),
    "bytea": (17, bytes),
}
