"""Records of the version that this ringtrue makes, kept as SQL for every later version to open.

    .venv-test/bin/python -m tests.records.kept_records     # once for each new version, and never again

Invented: haul trucks of the Greywacke quarry.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from records.chained import put_record
from records.forwarding.deliveries import Deliveries
from records.migrations import HEAD
from records.register.columns import Row, TableName
from records.register.merging import Incoming
from records.register.register import Register
from records.store import Store
from tests.chain.signers import signer
from tests.records.test_records_store import document

KEPT = Path(__file__).parent / "data"

REGISTER: dict[TableName, Row] = {
    "engines": {"engine": "GQ-E-2207", "fleet": "truck 14", "rating_kw": 522.0},
    "dampers": {"damper": "GQ-D-0815", "family": "viscous", "construction": "welded"},
    "gauges": {
        "gauge": "GQ-G-031", "what": "dial indicator 10 mm", "resolution_mm": 0.001, "mpe_mm": 0.004,
        "calibration_due": "2027-06-01", "certificate": "C-2026-118",
    },
    "fittings": {"engine": "GQ-E-2207", "date": "2025-03-10", "damper": "GQ-D-0815"},
    "readings": {"engine": "GQ-E-2207", "date": "2026-11-02", "distance_km": 197100.0, "hours_h": None},
    "events": {"engine": "GQ-E-2207", "date": "2026-11-02T06:30:00Z", "trigger": "impact", "note": "wall"},
}  # fmt: skip
"""One row of each of its tables; versions before 0002 have no register."""


RECORD = signer("bay-2").signed(
    {
        "schema": "ringtrue/chain/1", "site": "greywacke", "bay": "bay-2", "chain": "0123456789abcdef",
        "index": 0, "previous": "", "time": "2026-11-02T07:00:00.000Z", "kind": "begun", "why": "first",
    }
)  # fmt: skip
"""Versions before 0003 have no chain."""

RECEIVER = "https://shop.example/results"
"""It has had the first of the results; versions before 0004 do not say to whom any was handed on."""


def make(file: Path) -> None:
    """What the version holds."""
    with closing(Store(f"sqlite:///{file}", utc=lambda: datetime(2026, 11, 2, 7, 0, tzinfo=UTC))) as store:
        store.put(document("GQ-1"))
        store.put(document("GQ-2", verdict="replace"))
        store.put(document("GQ-2", revision=2))
        put_record(store, RECORD, datetime(2026, 11, 2, 7, 0, tzinfo=UTC))
    with closing(Deliveries(f"sqlite:///{file}", RECEIVER)) as deliveries:
        first = deliveries.first()
        assert first is not None
        deliveries.end(first, "delivered", "204", datetime(2026, 11, 2, 7, 1, tzinfo=UTC))
    with closing(Register(f"sqlite:///{file}")) as register:
        for table, row in REGISTER.items():
            register.put(table, [Incoming(None, row)], ("impact",))


if __name__ == "__main__":
    kept = KEPT / f"records-{HEAD}.sql"
    assert not kept.exists(), f"{kept.name} has landed and is never made again"
    with TemporaryDirectory() as folder:
        file = Path(folder) / "records.db"
        make(file)
        with closing(sqlite3.connect(file)) as db:
            kept.write_text("\n".join(db.iterdump()) + "\n")
