"""A fleet's records of the version that this ringtrue makes, as `pg_dump` gives them, for every later one.

    .venv-test/bin/python -m tests.records.kept_fleet     # once for each new version that lands, never again

Invented: haul trucks of the Greywacke quarry. One bay that is sound but for what a twin with its key sent,
and with a signer's own decision, one whose beginning was missed, a message of a newer version, one that is
none, and another key.
"""

from __future__ import annotations

import os
import subprocess
from contextlib import closing
from pathlib import Path

from records.fleet.migrations import HEAD
from tests.parts.issuing import IssuingBay
from tests.parts.postgres import PASSWORD, USER, programs, server
from tests.records.filed import Database

KEPT = Path(__file__).parent / "data"
FIRST = "SET check_function_bodies = false;\n"
"""Functions stand before the tables that they name."""
DECIDED = {"decision": "replace", "remark": "grooved"}
"""Against a verdict of keep."""


def make(db: Database) -> None:
    """What the version holds."""
    bay, twin, late = IssuingBay(), IssuingBay(), IssuingBay("bay-3")
    filing = db.filing()
    filing.file([*bay.issue("truck-14"), *bay.issue("truck-14", 2, **DECIDED), *bay.issue("truck-15")])
    filing.file([bay.document("truck-16"), *late.issue("truck-17")[1:]])
    filing.file(twin.issue("truck-18"))
    topic, document = bay.document("truck-19")
    newer = document.replace(b"ringtrue/result/1", b"ringtrue/result/2")
    filing.file([(topic, newer), (bay.topics.chain, b"no record")])
    filing.file(IssuingBay("bay-3", key="another").issue("truck-20"))


def dumped(port: int, name: str) -> str:
    """As SQL, without what is of this server alone."""
    command = ["--no-owner", "--no-privileges", "--column-inserts", "-h", "127.0.0.1", "-U", USER]
    done = subprocess.run(
        [programs() / "pg_dump", *command, "-p", str(port), name],
        env={**os.environ, "PGPASSWORD": PASSWORD}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    own = ("--", "SET ", "SELECT pg_catalog.set_config", "\\")
    lines = [line for line in done.stdout.splitlines() if line.strip() and not line.startswith(own)]
    return FIRST + "\n".join(lines) + "\n"


if __name__ == "__main__":
    kept = KEPT / f"fleet-{HEAD}.sql"
    assert not kept.exists(), f"{kept.name} has landed and is never made again"
    with server() as postgres:
        db = Database(postgres.make("kept"))
        with closing(db.fleet) as fleet:
            fleet.prepare()
            make(db)
        kept.write_text(dumped(postgres.port, "kept"))
