"""The journal that is kept of each version for later ones: `python -m tests.acquire.kept_journal` makes
today's in `data/`, once; one that has landed is never made again."""

from __future__ import annotations

import math
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from acquire.bay.evidence import to_evidence
from acquire.journal.migrations import APPLICATION_ID, SCHEMA_VERSION
from acquire.journal.sealer import Sealer
from config.method import Method
from contract.document import encode
from contract.topics import Topics
from contract.units import Unit
from drivers.reading import Reading
from grading.assess import assess
from ringtrue import __version__
from tests.acquire.hand_clock import HandClock
from tests.acquire.workbench import ENCODER, INDICATOR, Workbench
from tests.chain.signers import signer

INSPECTION = "truck-14"
RIM_NM, FACE_NM = 95_000, 60_000


def inspect(bench: Workbench) -> None:
    """One inspection from open to signed: lifts and face typed, rim by encoder with a late reading,
    thickness typed, and two things corrected."""
    bench.open(INSPECTION, scope="both", hours_h=11840)
    bench.do("begin", check="lifts", gauge="typed")
    for value in (0.010, 0.012, 0.011):
        bench.do("record", check="lifts", value_mm=value)
    bench.do("end")
    seen = [{"item": item, "seen": "good"} for item in ("leak", "dents", "rubbing", "wobble", "paint")]
    bench.do("record", check="visual", items=seen)
    bench.do("begin", check="rim", gauge=INDICATOR)
    for degrees in range(0, 375, 3):
        bench.wait(0.03)
        bench.read(ENCODER, degrees % 360 * 1_000_000, Unit.UDEG)
        value = round(RIM_NM * math.cos(math.radians(degrees) - 0.7) / 1000) * 1000
        late_ns = 4_000_000 if degrees % 60 == 57 else 0
        bench.bay.take_reading(
            Reading(INDICATOR, degrees // 3, bench.clock.now_ns, value, Unit.NM, u_ns=late_ns)
        )
    bench.do("begin", check="face", gauge="typed", radius_mm=150)
    for number in range(25):
        angle = number * 15
        value = round(FACE_NM * math.cos(math.radians(angle) - 1.76) / 10_000) / 100
        bench.do("record", angle_deg=angle, value_mm=value)
    bench.do("record", angle_deg=360, value_mm=-0.01, replace=True)
    bench.do("end")
    for station in (0, 90, 180, 270):
        for radius, more in (("outer", 0.0), ("inner", 0.005)):
            bench.do(
                "record", check="thickness", station_deg=station, radius=radius,
                value_mm=24.0 + station / 9000 + more,
            )  # fmt: skip
    record_result(bench)
    bench.do("close", inspection=INSPECTION)
    bench.do("sign", inspection=INSPECTION, name="R. Example", sure=True)
    record_result(bench)


def record_result(bench: Workbench) -> None:
    """What the daemon does when something has changed."""
    state = bench.state(INSPECTION)
    document = encode(assess(to_evidence(state), Method.model_validate(state.opened.method)))
    bench.journal.put_result(INSPECTION, state.revision, document, bench.clock.utc().isoformat())
    bench.flush()


def make(folder: Path) -> Path:
    """Today's journal of that inspection, in `folder`; its file."""
    bench = Workbench(folder, software=f"ringtrue {__version__}")
    sealer = Sealer(signer("kept"), Topics("greywacke", "bay-2"), HandClock(now_ns=1_000_000_000).utc)
    bench.journal.seal_with(sealer)
    inspect(bench)
    bench.close()
    return bench.path


def main() -> None:
    """Its SQL, with what `iterdump` leaves out. Raises FileExistsError where it is there already."""
    with tempfile.TemporaryDirectory() as folder, closing(sqlite3.connect(make(Path(folder)))) as db:
        head = f"PRAGMA user_version = {SCHEMA_VERSION};\nPRAGMA application_id = {APPLICATION_ID};\n"
        kept = Path(__file__).parent / f"data/journal-{SCHEMA_VERSION}.sql"
        with kept.open("x") as file:
            file.write(head + "\n".join(db.iterdump()) + "\n")


if __name__ == "__main__":
    main()
