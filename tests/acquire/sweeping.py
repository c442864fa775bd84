"""A process that sweeps until it is killed: `python -m tests.acquire.sweeping FOLDER`.

Opens an inspection and begins a sweep by the same two requests at each start, then reads: each reading
of the indicator is one more than the last in the journal. Prints what is committed.
"""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

from acquire.journal.events import Sample
from contract.units import Unit
from tests.acquire.workbench import ENCODER, INDICATOR, Workbench

INSPECTION = "truck-14"
OPEN = {
    "id": "open-1", "operator": "R. Example", "inspection": INSPECTION, "engine": "GQ-E-2207",
    "damper": "GQ-D-0815", "scope": "on-engine",
}  # fmt: skip
BEGIN = {"id": "begin-1", "operator": "R. Example", "check": "rim", "gauge": INDICATOR}


async def sweep(folder: Path) -> None:
    """For ever."""
    bench = Workbench(folder)
    bench.read(ENCODER, 0, Unit.UDEG)
    for name, said in (("open", OPEN), ("begin", BEGIN)):
        reply = bench.send_raw(name, said)
        assert reply["ok"], reply
    await bench.journal.flushed()
    kept = [e.value for e in bench.journal.read(INSPECTION) if isinstance(e, Sample) and e.gauge == INDICATOR]
    value = kept[-1] if kept else 0
    print(f"ready {value}", flush=True)
    while True:
        for _ in range(20):
            value += 1
            bench.wait(0.001)
            bench.read(ENCODER, value % 200 * 100_000, Unit.UDEG)
            bench.read(INDICATOR, value)
        await bench.journal.flushed()
        print(f"committed {value}", flush=True)


if __name__ == "__main__":
    asyncio.run(sweep(Path(sys.argv[1])))
