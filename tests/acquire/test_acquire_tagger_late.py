"""Angles of readings that were not read as they came: when is uncertain, and so is where the crank was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from acquire.angle.tagger import tag_sweep
from acquire.journal.events import AngleStated, Event, Sample, SweepBegun
from contract.gauge import GaugeFacts
from contract.units import Unit
from grading.evidence import F64

MS = 1_000_000
STALL = slice(50, 65)
"""The readings that came while nobody read."""
U_NS = 87 * MS


def angles_u(degrees: list[float], late: dict[str, slice], number: int = 100) -> F64:
    """Both gauges every 20 ms, the crank at the given degrees; those readings `late`."""
    begun = SweepBegun(
        inspection="i",
        time_ns=0,
        check="rim",
        gauge=GaugeFacts(id="indicator-1", resolution_mm=0.001, mpe_mm=0.004),
        angle=AngleStated(source="encoder", gauge="encoder-1", step=1000),
    )
    events: list[Event] = [begun]
    for gauge, unit in (("encoder-1", Unit.UDEG), ("indicator-1", Unit.NM)):
        samples = [
            Sample(
                inspection="i", time_ns=n * 20 * MS, gauge=gauge, reading=n, unit=unit,
                value=round(degrees[n] * 1e6) % 360_000_000 if gauge == "encoder-1" else 1000,
            )
            for n in range(number)
        ]  # fmt: skip
        where = late.get(gauge, slice(0, 0))
        samples[where] = [replace(sample, u_ns=U_NS) for sample in samples[where]]
        events += samples
    return tag_sweep(events).angle_u_deg


EVEN = [n * 2.0 for n in range(100)]


@pytest.mark.parametrize("late", ["indicator-1", "encoder-1"])
def test_a_late_reading_is_as_uncertain_as_the_crank_moved_meanwhile(late: str) -> None:
    prompt, u = angles_u(EVEN, {}), angles_u(EVEN, {late: STALL})
    expected = 100.0 * U_NS / 1e9  # degrees a second times seconds
    assert u[STALL][1:-1] == pytest.approx(np.hypot(expected, prompt[STALL][1:-1]), rel=1e-6)
    np.testing.assert_array_equal(u[: STALL.start - 1], prompt[: STALL.start - 1])
    np.testing.assert_array_equal(u[STALL.stop + 1 :], prompt[STALL.stop + 1 :])


def test_both_late_join() -> None:
    late = 100.0 * U_NS / 1e9
    u = angles_u(EVEN, {"indicator-1": STALL, "encoder-1": STALL})
    assert u[STALL][1:-1] == pytest.approx(late * 2**0.5, rel=0.01)


def test_on_a_crank_that_stands_lateness_costs_nothing() -> None:
    standing = [7.0] * 100
    np.testing.assert_array_equal(angles_u(standing, {"indicator-1": STALL}), angles_u(standing, {}))


def test_a_crank_barred_to_and_fro_meanwhile_counts_with_all_its_way() -> None:
    to_and_fro = [5.0 * (n % 4 in (1, 2)) for n in range(100)]
    u = angles_u(to_and_fro, {"indicator-1": STALL})
    assert (u[STALL] >= 5.0 / 12**0.5).all()
