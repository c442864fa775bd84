"""The wheel under a kernel of its own: two adapters alike, one of them pulled out within a sweep."""

from __future__ import annotations

import contextlib
import time
from pathlib import Path

import pytest

from contract.units import NM_PER_MM
from link.client import BayClient
from link.errors import NothingHeardError
from tests.machine.boot import Boot
from tests.machine.machine import Machine, running
from tests.machine.stage import LONG_S, Crank, Outside, Wheel, daemon, state_of

pytestmark = pytest.mark.machine

# Plane geometry: twice what the rim's centre is off the axis.
TIR_MM = 0.1
# Seconds after which no reading is under way any more, however busy this machine.
QUIET_S = 30.0

# Both are what the emulator makes; vendor and product numbers are those its adapter tells.
GAUGES = """\
[[gauge]]
id = "indicator-1"
profile = "line-mm"
usb = { vendor = 0x0403, product = 0x6001, serial = "A7" }
resolution_mm = 0.001
mpe_mm = 0.004
[[gauge]]
id = "encoder-1"
profile = "encoder-degrees"
usb = { vendor = 0x0403, product = 0x6001, serial = "B2" }
[angle]
source = "encoder"
gauge = "encoder-1"
"""


async def test_a_sweep_outlives_its_gauge_being_pulled_out(boot: Boot, wheel: Wheel, folder: Path) -> None:
    async with running(boot, folder, adapters=("first", "second", "third")) as machine:
        crank = Crank(machine, indicator="first", encoder="second")
        async with daemon(machine, wheel, GAUGES) as bay, crank.sending():
            # Plugged in the other way round than they are listed: names of ports tell nothing.
            await machine.plug("second", "B2")
            await machine.plug("first", "A7")
            crank.plugged |= {"first", "second"}
            await bay.until(lambda: _states(bay) == ["connected", "connected"], LONG_S, "both gauges")
            assert "/dev/ttyUSB1" in bay.gauges["indicator-1"].reason
            await bay.command("open", engine="GQ-E-2207", damper="GQ-D-0815", scope="on-engine")
            await bay.command("begin", check="rim", gauge="indicator-1")
            await crank.bar(130.0)
            await _pulled_out_and_back(machine, crank, bay)
            assert "/dev/ttyUSB1" in bay.gauges["indicator-1"].reason
            await crank.bar(250.0)
            # A third adapter takes its name meanwhile, which is nobody's gauge.
            await _pulled_out_and_back(machine, crank, bay, meanwhile="third")
            assert "/dev/ttyUSB2" in bay.gauges["indicator-1"].reason
            await crank.bar(375.0)
            crank.plugged.clear()
            await _all_heard(crank, bay)
            await bay.until(lambda: _is_graded(bay), LONG_S, "the sweep's result")
        rim = bay.result.checks.rim if bay.result is not None else None
        assert rim is not None
        print(rim)
        assert rim.outcome == "within", rim.reason
        assert rim.true_tir_mm is not None
        assert rim.u_expanded_mm is not None
        assert abs(rim.true_tir_mm - TIR_MM) <= rim.u_expanded_mm


async def _pulled_out_and_back(
    machine: Machine, crank: Crank, bay: Outside, *, meanwhile: str | None = None
) -> None:
    """The indicator's adapter, the crank standing. meanwhile: another, plugged in before it is back."""
    crank.plugged.discard("first")
    await _all_heard(crank, bay)
    await machine.unplug("first")
    at_s = time.monotonic()
    await bay.until(lambda: state_of(bay, "indicator-1") == "absent", LONG_S, "its absence")
    gone_s = time.monotonic() - at_s
    # By then its port is closed as well: a name that is still held goes to nobody.
    await bay.until(lambda: "no USB device" in bay.gauges["indicator-1"].reason, LONG_S, "it is closed")
    if meanwhile is not None:
        await machine.plug(meanwhile, "C3")
        await machine.must("until [ -e /dev/ttyUSB1 ]; do sleep 0.1; done")
    await machine.plug("first", "A7")
    crank.plugged.add("first")
    at_s = time.monotonic()
    await bay.until(lambda: state_of(bay, "indicator-1") == "connected", LONG_S, "its return")
    print(f"gone: told after {gone_s:.2f} s; back: after {time.monotonic() - at_s:.2f} s")


async def _all_heard(crank: Crank, bay: Outside) -> None:
    """Since it was plugged in all that was sent was heard but for a beginning, when its port was not open
    yet."""
    sent, heard = crank.sent["first"], bay.readings["indicator-1"]

    def is_all() -> bool:
        return len(heard) > 20 and sent[-len(heard) :] == [round(value * NM_PER_MM) for value in heard]

    with contextlib.suppress(NothingHeardError):
        await bay.until(is_all, QUIET_S, "the last that was sent")
    assert is_all(), f"sent {sent}, heard {heard}"
    sent.clear()
    heard.clear()


def _is_graded(bay: BayClient) -> bool:
    rim = bay.result.checks.rim if bay.result is not None else None
    return rim is not None and rim.outcome != "missing"


def _states(bay: BayClient) -> list[str]:
    return [state_of(bay, gauge) for gauge in ("indicator-1", "encoder-1")]
