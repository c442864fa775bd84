"""Today's tables, as the scripts in `migrations` make them.

Days are text such as 2026-03-02, and moments RFC 3339 in UTC, so that text sorts as time does. The register's
tables have names of their own: a fleet's database may hold other programs'.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Column,
    ColumnElement,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    TypeDecorator,
    cast,
)


class Bytes(TypeDecorator[bytes]):
    """Bytes, also where somebody has put text or a number into the place: SQLite keeps what it is given, and
    most hands that alter a row leave text."""

    impl = LargeBinary
    cache_ok = True

    def column_expression(self, column: ColumnElement[Any]) -> ColumnElement[bytes]:
        """What is read."""
        return cast(column, LargeBinary)


METADATA = MetaData()

RESULTS = Table(
    "results",
    METADATA,
    Column("inspection", String, primary_key=True),
    Column("revision", Integer, primary_key=True),
    Column("state", String, nullable=False),
    Column("site", String, nullable=False),
    Column("bay", String, nullable=False),
    Column("engine", String, nullable=False, index=True),
    Column("damper", String, nullable=False, index=True),
    Column("verdict", String, nullable=False),
    Column("opened", String, nullable=False),
    Column("stored", String, nullable=False, index=True),
    Column("sha256", String, nullable=False),
    Column("document", Bytes, nullable=False),
)

CHAIN = Table(
    "chain",
    METADATA,
    Column("sha256", String, primary_key=True),
    Column("site", String, nullable=False),
    Column("bay", String, nullable=False),
    Column("chain", String, nullable=False),
    Column("place", Integer, nullable=False),
    Column("inspection", String),
    Column("revision", Integer),
    Column("stored", String, nullable=False),
    Column("record", Bytes, nullable=False),
    Index("ix_chain_order", "site", "bay", "chain", "place"),
)

DELIVERIES = Table(
    "deliveries",
    METADATA,
    Column("receiver", String, primary_key=True),
    Column("inspection", String, primary_key=True),
    Column("revision", Integer, primary_key=True),
    Column("ended", String, nullable=False),
    Column("said", String, nullable=False),
    Column("time", String, nullable=False),
)

ENGINES = Table(
    "register_engines",
    METADATA,
    Column("engine", String, primary_key=True),
    Column("fleet", String, nullable=False),
    Column("rating_kw", Float),
)

DAMPERS = Table(
    "register_dampers",
    METADATA,
    Column("damper", String, primary_key=True),
    Column("family", String, nullable=False),
    Column("construction", String),
)

GAUGES = Table(
    "register_gauges",
    METADATA,
    Column("gauge", String, primary_key=True),
    Column("what", String, nullable=False),
    Column("resolution_mm", Float, nullable=False),
    Column("mpe_mm", Float, nullable=False),
    Column("calibration_due", String, nullable=False),
    Column("certificate", String, nullable=False),
)

FITTINGS = Table(
    "register_fittings",
    METADATA,
    Column("engine", String, ForeignKey("register_engines.engine"), primary_key=True),
    Column("date", String, primary_key=True),
    Column("damper", String, ForeignKey("register_dampers.damper"), nullable=False),
)

READINGS = Table(
    "register_readings",
    METADATA,
    Column("engine", String, ForeignKey("register_engines.engine"), primary_key=True),
    Column("date", String, primary_key=True),
    Column("distance_km", Float),
    Column("hours_h", Float),
)

EVENTS = Table(
    "register_events",
    METADATA,
    Column("engine", String, ForeignKey("register_engines.engine"), primary_key=True),
    Column("date", String, primary_key=True),
    Column("trigger", String, primary_key=True),
    Column("note", String, nullable=False),
)
