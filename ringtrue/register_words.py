"""What `register list` says: a table for people, or the same as data."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

from contract.words import count_of
from grading.programme.counters import series_of
from grading.programme.record import EngineRecord
from grading.programme.suitability import unsuitable
from records.register.columns import Cell, TableName
from records.register.engines import Inspections, engine_records
from records.register.merging import Book
from ringtrue.columned import DASH, cut, sentences, table

if TYPE_CHECKING:
    from config.method import Method

HEADS = {
    "rating_kw": "kW", "distance_km": "km", "hours_h": "h",
    "resolution_mm": "step mm", "mpe_mm": "MPE mm", "calibration_due": "calibration due",
}  # fmt: skip
"""Shorter than the columns' names, for a terminal."""
NONE_YET = "none yet: ringtrue register import {table} FILE"


def as_text(
    name: TableName, book: Book, inspections: Inspections, method: Method, today: date
) -> Iterator[str]:
    """One table, line by line."""
    rows = book[name]
    if not rows:
        yield f"{name}: {NONE_YET.format(table=name)}"
    elif name == "engines":
        yield from _engines(book, inspections, method)
    else:
        yield from _rows(name, book, today)


def as_data(name: TableName, book: Book, inspections: Inspections, method: Method) -> list[dict[str, Any]]:
    """One table as plain data; of an engine also what is fitted, last read and amiss."""
    if name == "engines":
        return [_engine(record, method) for record in engine_records(book, inspections)]
    if name == "dampers":
        return [dict(row) | _place(str(row["damper"]), book) for row in book[name].values()]
    return [dict(row) for row in book[name].values()]


def _place(damper: str, book: Book) -> dict[str, Any]:
    """Where a damper was fitted last; it may have been taken off since."""
    own = [row for row in book["fittings"].values() if row["damper"] == damper]
    last = max(own, key=lambda row: str(row["date"]), default=None)
    return {"engine": last and last["engine"], "fitted": last and last["date"]}


def _rows(name: TableName, book: Book, today: date) -> Iterator[str]:
    """Rows as they are, a note below its own."""
    rows = [
        dict(row) | (_place(str(row["damper"]), book) if name == "dampers" else {})
        for row in book[name].values()
    ]
    columns = [column for column in rows[0] if column != "note"]
    numbers = [at for at, column in enumerate(columns) if column in HEADS and column != "calibration_due"]
    cells = [[_shown(row[column]) for column in columns] for row in rows]
    head, *lines = table([HEADS.get(column, column) for column in columns], cells, numbers)
    yield head
    for row, line in zip(rows, lines, strict=True):
        yield line
        yield from sentences([str(row["note"])] if row.get("note") else [])
        if name == "gauges" and str(row["calibration_due"]) < today.isoformat():
            yield from sentences(["its calibration has ended: have it calibrated before it measures again"])


def _engine(record: EngineRecord, method: Method) -> dict[str, Any]:
    distance, hours = series_of(record.distance_km).readings, series_of(record.hours_h).readings
    fitted = record.fitted
    return {
        "engine": record.engine,
        "fleet": record.fleet,
        "rating_kw": record.rating_kw,
        "damper": fitted.damper if fitted else None,
        "family": record.family if fitted else None,
        "construction": record.construction if fitted else None,
        "fitted": fitted.day.isoformat() if fitted else None,
        "distance_km": distance[-1].value if distance else None,
        "hours_h": hours[-1].value if hours else None,
        "amiss": list(_amiss(record, method)),
    }


def _amiss(record: EngineRecord, method: Method) -> Iterator[str]:
    fitted = record.fitted
    if fitted is None:
        yield "no damper is on record as fitted to it"
        return
    reason = unsuitable(
        method.suitability, family=record.family, construction=record.construction, rating_kw=record.rating_kw
    )
    if reason is not None:
        yield f"damper {fitted.damper}: {reason.reason}"


def _engines(book: Book, inspections: Inspections, method: Method) -> Iterator[str]:
    columns = ("engine", "fleet", "rating_kw", "damper", "construction", "fitted", "distance_km", "hours_h")
    head = ["engine", "fleet", "kW", "damper", "constr.", "fitted", "km", "h"]
    engines = as_data("engines", book, inspections, method)
    lines = table(head, [[_shown(one[column]) for column in columns] for one in engines], (2, 6, 7))
    yield lines[0]
    for one, line in zip(engines, lines[1:], strict=True):
        yield line
        yield from sentences(one["amiss"])
    unknown = sorted(set(inspections) - {one["engine"] for one in engines})
    yield from sentences(not_in_register(unknown), "")


def not_in_register(engines: list[str]) -> Iterator[str]:
    """That there are inspections of engines which the register does not hold."""
    if engines:
        named = ", ".join(engines[:5]) + (", …" if len(engines) > 5 else "")
        yield (
            f"{count_of(len(engines), 'engine')} with inspections on record, not in the register: {named}: "
            f"{'import it to have it told' if len(engines) == 1 else 'import them to have them told'}"
        )


def _shown(cell: Cell) -> str:
    if cell is None or cell == "":
        return DASH
    return cut(cell, 40) if isinstance(cell, str) else f"{cell:.15g}"
