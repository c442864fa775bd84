"""A bay whose chain is whole, in journal and records, and what `records verify` says of it."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from ringtrue.cli import main
from tests.acquire.hand_clock import HandClock
from tests.chain.chained_bay import ChainedBay

RESULTS = [("i-1", 1), ("i-1", 2), ("i-2", 1), ("i-3", 1), ("i-3", 2), ("i-3", 3)]
LAST = len(RESULTS)
"""The index of the last record: the first begins the chain."""


def delivered(folder: Path) -> ChainedBay:
    bay = ChainedBay(folder)
    bay.start()
    bay.issue(*RESULTS)
    bay.deliver()
    return bay


def copy_of(bay: ChainedBay, folder: Path) -> ChainedBay:
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(bay.folder, folder)
    return ChainedBay(folder, clock=HandClock(bay.clock.now_ns))


def verify(bay: ChainedBay, *more: str) -> tuple[int, dict[str, Any]]:
    """Its exit code, and what it says as JSON."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        code = main(["records", "verify", "--config", str(bay.config), "--json", *more])
    return code, json.loads(said.getvalue()) if said.getvalue() else {}


def broken(bay: ChainedBay, *more: str) -> dict[str, Any]:
    code, said = verify(bay, *more)
    assert (code, said["sound"]) == (1, False)
    (one,) = said["bays"].values()
    found: dict[str, Any] = one["broken"]
    return found


def change(file: Path, sql: str, *values: object) -> None:
    with closing(sqlite3.connect(file)) as db, db:
        db.execute(sql, values)


def place_of(bay: ChainedBay, inspection: str, revision: int) -> int:
    return 1 + RESULTS.index((inspection, revision))
