"""The uncertainty of a reading's time from the driver to the graded sweep, and over a restart."""

from __future__ import annotations

from acquire.bay.evidence import readings_sha256, to_evidence
from acquire.journal.events import Sample
from contract.units import Unit
from drivers.reading import Reading
from grading.evidence import Sweep
from tests.acquire.workbench import ENCODER, INDICATOR, Workbench


def test_it_is_journalled_hashed_and_widens_the_angle(bench: Workbench) -> None:
    bench.open()
    bench.do("begin", check="rim", gauge=INDICATOR)
    for n in range(100):
        bench.wait(0.02)
        bench.read(ENCODER, 2_000_000 * n, Unit.UDEG)
        u_ns = 50_000_000 if n == 50 else 0
        bench.bay.take_reading(Reading(INDICATOR, n, bench.clock.now_ns, 1000, Unit.NM, u_ns))
    bench.do("end")
    bench.restart()
    state = bench.state()
    late = [event for event in bench.journal_events() if isinstance(event, Sample) and event.u_ns]
    assert [(event.reading, event.u_ns) for event in late] == [(50, 50_000_000)]
    (sweep,) = to_evidence(state).attempts["rim"]
    assert isinstance(sweep, Sweep)
    assert sweep.angle_u_deg.argmax() == 50
    assert sweep.angle_u_deg[50] > 4.9 > 5 * sweep.angle_u_deg[49]
    assert readings_sha256(state) == to_evidence(state).readings_sha256
