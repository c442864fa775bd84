"""The tables of the register, column by column: what a cell may hold.

A row is a dict from column to cell: text, a number, or None where nothing is known. Days are ISO 8601,
moments a day alone or RFC 3339 in UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from contract.terms import Construction, Family

Cell = str | float | None
Row = dict[str, Cell]
Key = tuple[Cell, ...]
TableName = Literal["engines", "dampers", "gauges", "fittings", "readings", "events"]
Kind = Literal["serial", "text", "number", "past", "day", "moment", "choice", "trigger"]


@dataclass(frozen=True, slots=True)
class Column:
    """name: as in CSV and JSON, with its unit. kind: `past` is a day that has come. what: for people. is_key:
    part of what tells one row from another. is_needed: no cell of it is empty. refers: the table whose rows
    it names. least, most: of a number. choices: of a choice."""

    name: str
    kind: Kind
    what: str
    is_key: bool = False
    is_needed: bool = True
    refers: TableName | None = None
    least: float = 0.0
    most: float = 0.0
    choices: tuple[str, ...] = ()

    @property
    def is_length(self) -> bool:
        """Whether its numbers are of a gauge, which has no thousands."""
        return self.name.endswith("_mm")

    @property
    def empty(self) -> Cell:
        """What stands for an empty cell."""
        return "" if self.kind == "text" else None


_ENGINE = Column("engine", "serial", "the engine's serial", is_key=True, refers="engines")

TABLES: dict[TableName, tuple[Column, ...]] = {
    "engines": (
        Column("engine", "serial", "the engine's serial", is_key=True),
        Column("fleet", "text", "what the fleet calls it, such as truck 14", is_needed=False),
        Column("rating_kw", "number", "rated power in kW", is_needed=False, least=1.0, most=100_000.0),
    ),
    "dampers": (
        Column("damper", "serial", "the damper's serial", is_key=True),
        Column("family", "choice", "viscous or rubber", choices=get_args(Family)),
        Column(
            "construction", "choice", "rolled or welded, by the edge that is seen",
            is_needed=False, choices=get_args(Construction),
        ),
    ),
    "gauges": (
        Column("gauge", "serial", "the gauge's serial", is_key=True),
        Column("what", "text", "what it is, such as dial indicator 10 mm"),
        Column("resolution_mm", "number", "one step of its display", least=1e-6, most=1.0),
        Column("mpe_mm", "number", "any two readings differ wrongly by this at most", most=1.0),
        Column("calibration_due", "day", "the day until which its calibration holds"),
        Column("certificate", "text", "the id of its certificate", is_needed=False),
    ),
    "fittings": (
        _ENGINE,
        Column("date", "past", "the day of the fitting", is_key=True),
        Column("damper", "serial", "the damper that was put on", refers="dampers"),
    ),
    "readings": (
        _ENGINE,
        Column("date", "past", "the day of the reading", is_key=True),
        Column("distance_km", "number", "the odometer", is_needed=False, most=100_000_000.0),
        Column("hours_h", "number", "the hour meter", is_needed=False, most=10_000_000.0),
    ),
    "events": (
        _ENGINE,
        Column("date", "moment", "the day, or the time in UTC", is_key=True),
        Column("trigger", "trigger", "one of the method's triggers", is_key=True),
        Column("note", "text", "what more there is to say", is_needed=False),
    ),
}  # fmt: skip


def key_of(table: TableName, row: Row) -> Key:
    """What tells a row from the others of its table."""
    return tuple(row[column.name] for column in TABLES[table] if column.is_key)


def key_words(key: Key) -> str:
    """For a message."""
    return " ".join(str(part) for part in key)
