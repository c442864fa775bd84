"""Today's tables of a fleet's database, as the scripts in `migrations` make them (PostgreSQL).

Rows are put in and, but for a result that its bay's chain turns out to contradict, never changed or taken
out: a writer's role needs no more than to read and insert. `month` is what results and checks are partitioned
by.
"""

from __future__ import annotations

from sqlalchemy import (
    ARRAY,
    BigInteger,
    Boolean,
    Column,
    Date,
    DateTime,
    Float,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    func,
    text,
)

METADATA = MetaData()
_MOMENT = DateTime(timezone=True)


def _stored() -> Column[object]:
    """When it came to the database."""
    return Column("stored", _MOMENT, nullable=False, server_default=func.now())


def _bay() -> tuple[Column[str], Column[str]]:
    return Column("site", Text, primary_key=True), Column("bay", Text, primary_key=True)


def _revision() -> tuple[Column[str], Column[int]]:
    return Column("inspection", Text, primary_key=True), Column("revision", Integer, primary_key=True)


BAY_KEYS = Table(
    "fleet_bay_keys",
    METADATA,
    *_bay(),
    Column("key", Text, primary_key=True),
    Column("how", Text, nullable=False),
    _stored(),
)
"""Public keys that sign for a bay. how: `first` seen, or `accepted` by somebody."""

REVISIONS = Table(
    "fleet_revisions",
    METADATA,
    *_bay(),
    *_revision(),
    Column("sha256", Text, nullable=False),
    Column("month", Date, nullable=False),
    _stored(),
    Index("ix_fleet_revisions_stored", "stored", postgresql_using="brin"),
)
"""Each revision of each bay's inspections, once over all months, with the SHA-256 of its document."""

RESULTS = Table(
    "fleet_results",
    METADATA,
    *_bay(),
    *_revision(),
    Column("month", Date, primary_key=True),
    Column("opened", _MOMENT, nullable=False),
    Column("closed", _MOMENT),
    Column("state", Text, nullable=False),
    Column("verdict", Text, nullable=False),
    Column("engine", Text, nullable=False),
    Column("damper", Text, nullable=False),
    Column("method_id", Text, nullable=False),
    Column("method_version", Text, nullable=False),
    Column("method_sha256", Text, nullable=False),
    Column("software", Text, nullable=False),
    Column("document", LargeBinary, nullable=False),
    *(Column(name, ARRAY(Text), nullable=False) for name in ("checks", "gauges", "outcomes")),
    *(
        Column(name, ARRAY(Float), nullable=False)
        for name in ("limits_mm", "tirs_mm", "trues_mm", "us_mm", "ps_over")
    ),
    Column("decision", Text),
    Index("ix_fleet_results_engine", "engine", "opened"),
    Index("ix_fleet_results_damper", "damper", "opened"),
    postgresql_partition_by="RANGE (month)",
)
"""document: the result document byte for byte, compressed (zlib, RFC 1950). checks: their names, and in the
same order the gauge, the outcome and the figures of each (NULL where it has none), which the view
`fleet_checks` shows a check a row. tirs_mm: as a dial shows it; of thickness the spread. trues_mm: the
estimate that is decided; us_mm: its expanded uncertainty for 95 %. decision: the signer's own, where it is
not the verdict, and goes before that. Its default is for writers that do not know it: it refuses their
rows."""

CHAIN = Table(
    "fleet_chain",
    METADATA,
    *_bay(),
    Column("chain", Text, primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("sha256", Text, nullable=False),
    Column("inspection", Text),
    Column("revision", Integer),
    Column("document_sha256", Text),
    Column("later", Boolean),
    Column("after_chain", Text),
    Column("after_size", Integer),
    Column("after_root", Text),
    Column("time", Text, nullable=False),
    _stored(),
    Column("record", LargeBinary, nullable=False),
    Index("ix_fleet_chain_revision", "site", "bay", "inspection", "revision"),
    Index("ix_fleet_chain_stored", "stored", postgresql_using="brin"),
    Index("ix_fleet_chain_after", "site", "bay", postgresql_where=text("after_chain IS NOT NULL")),
)
"""Records of bays' chains, byte for byte, whose signature was good when they came."""

WALKED = Table(
    "fleet_walked",
    METADATA,
    *_bay(),
    Column("chain", Text, primary_key=True),
    Column("size", Integer, primary_key=True),
    Column("root", Text, nullable=False),
    Column("subtrees", LargeBinary, nullable=False),
    Column("last", Text, nullable=False),
)
"""How far each chain was walked without a gap or a break: where a walk ended, and every so many records
(`verifying.EVERY`). root: of the hash tree of the first `size` records;
subtrees: the roots of its whole subtrees, by which it grows; last: SHA-256 of the last of these records."""

CHECKPOINTS = Table(
    "fleet_checkpoints",
    METADATA,
    *_bay(),
    Column("chain", Text, primary_key=True),
    Column("size", Integer, primary_key=True),
    Column("root", Text, primary_key=True),
    _stored(),
    Column("message", LargeBinary, nullable=False),
    Index("ix_fleet_checkpoints_stored", "stored"),
)
"""Checkpoints whose signature held, byte for byte: of those of a chain that came together the largest, and
those that said what nothing else did."""

BREAKS = Table(
    "fleet_breaks",
    METADATA,
    *_bay(),
    Column("chain", Text, primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("what", Text, primary_key=True),
    Column("why", Text, nullable=False),
    Column("inspection", Text),
    Column("revision", Integer),
    _stored(),
)
"""Where a chain is broken: `chain.breaks`."""

REFUSED = Table(
    "fleet_refused",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("topic", Text, primary_key=True),
    Column("reason", Text, primary_key=True),
    Column("why", Text, nullable=False),
    _stored(),
    Column("payload", LargeBinary, nullable=False),
    Index("ix_fleet_refused_reason", "reason", "stored"),
)
"""What was not taken, whole (compressed), and why."""

REFUSED_GONE = Table(
    "fleet_refused_gone",
    METADATA,
    Column("reason", Text, primary_key=True),
    Column("number", BigInteger, nullable=False),
    Column("bytes", BigInteger, nullable=False),
    Column("latest", _MOMENT, nullable=False),
)
"""How much of what was refused was let go, beyond what is kept; what was taken up since is not counted."""

TAKEN_UP = Table(
    "fleet_taken_up",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("topic", Text, primary_key=True),
    _stored(),
)
"""What was refused and taken after all: by a newer writer, or as a key was accepted."""

ASKED = Table(
    "fleet_asked",
    METADATA,
    *_bay(),
    Column("asked", _MOMENT, primary_key=True, server_default=func.now()),
    Column("since", Text, nullable=False),
    Column("why", Text, nullable=False),
)
"""When a bay was asked to send again what is missing here."""
