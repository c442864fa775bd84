"""The wheel under a kernel of its own: two adapters alike, one of them pulled out within a sweep."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

import pytest

from link.client import BayClient
from tests.machine.boot import Boot
from tests.machine.machine import Machine, running
from tests.machine.stage import Crank, Wheel, daemon

pytestmark = pytest.mark.machine

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
LONG_S = 300.0


async def test_a_sweep_outlives_its_gauge_being_pulled_out(boot: Boot, wheel: Wheel, folder: Path) -> None:
    async with running(boot, folder, adapters=("first", "second")) as machine:
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
            await crank.bar(150.0)
            await _pulled_out_and_back(machine, crank, bay)
            await crank.bar(375.0)
            await bay.until(lambda: _is_graded(bay), LONG_S, "the sweep's result")
        sent, heard = crank.sent["first"], bay.readings["indicator-1"]
        rim = bay.result.checks.rim if bay.result is not None else None
        assert rim is not None
        print(rim)
        print(len(sent), len(heard))
        assert rim.outcome == "within"
        assert rim.true_tir_mm is not None
        assert rim.u_expanded_mm is not None
        assert abs(rim.true_tir_mm - 0.1) <= rim.u_expanded_mm


async def _pulled_out_and_back(machine: Machine, crank: Crank, bay: BayClient) -> None:
    """The indicator's adapter, the crank standing meanwhile."""
    crank.plugged.discard("first")
    await asyncio.sleep(0.5)  # what was sent must be read before the adapter is gone
    await machine.unplug("first")
    at_s = time.monotonic()
    await bay.until(lambda: _state(bay, "indicator-1") == "absent", LONG_S, "its absence")
    gone_s = time.monotonic() - at_s
    await machine.plug("first", "A7")
    crank.plugged.add("first")
    at_s = time.monotonic()
    await bay.until(lambda: _state(bay, "indicator-1") == "connected", LONG_S, "its return")
    print(f"gone: told after {gone_s:.2f} s; back: after {time.monotonic() - at_s:.2f} s")


def _is_graded(bay: BayClient) -> bool:
    rim = bay.result.checks.rim if bay.result is not None else None
    return rim is not None and rim.outcome != "missing"


def _state(bay: BayClient, gauge: str) -> str:
    return bay.gauges[gauge].state if gauge in bay.gauges else "unheard"


def _states(bay: BayClient) -> list[str]:
    return [_state(bay, gauge) for gauge in ("indicator-1", "encoder-1")]
