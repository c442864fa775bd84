"""The wheel under a kernel of its own: two adapters alike, one of them pulled out within a sweep."""

from __future__ import annotations

import asyncio
import contextlib
import re
import time
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest

from contract.units import NM_PER_MM
from drivers.capture import read_capture
from link.client import BayClient
from link.errors import NothingHeardError
from tests.machine.boot import Boot
from tests.machine.machine import Machine, running
from tests.machine.stage import LONG_S, PERIOD_S, Crank, Outside, Wheel, daemon, state_of

pytestmark = pytest.mark.machine

# Plane geometry: twice what the rim's centre is off the axis.
TIR_MM = 0.1
# Seconds of the machine's own clock, from the kernel's word that an adapter is there until it is listened to.
# Of a real machine two are promised; this one's processor is twenty times slower.
NOTICED_MAX_S = 5.0
# How the adapter wraps what it sends: two bytes of its own state at the head of each packet.
THROUGH_LIBUSB = """\
schema = "ringtrue/gauge/1"
id = "adapter-itself"
description = "Lines of a serial adapter, read past its driver"
port = { kind = "usb", skip_bytes = 2 }
framing = { kind = "line", terminator = "\\r\\n", max_bytes = 16 }
value = { pattern = '(?P<value>[+-]\\d{3}\\.\\d{3})', template = "{:+08.3f}", unit = "mm" }
manner = { kind = "free-running", period_s = 0.5 }
proof = [{ text = "+000.190\\r\\n", values = [190_000] }]
"""
LINE, CAPTURED_S = b"+000.190\r\n", 6
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
            await _noticed_in_time(machine)
        await _read_past_its_driver(machine, wheel, "third", "C3")
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


async def _noticed_in_time(machine: Machine) -> None:
    """By the clock of the machine alone: when its kernel had made a port, and when that was listened to."""
    kernel = await machine.must("dmesg --time-format iso")
    attached = [
        (datetime.fromisoformat(at.replace(",", ".")).timestamp(), port)
        for at, port in re.findall(r"^(\S+) .* now attached to (ttyUSB\d)$", kernel, re.MULTILINE)
    ]
    log = (machine.job / "daemon.log").read_text()
    said = re.findall(r'timestamp=(\S+) .*reason="listening on /dev/(ttyUSB\d)"', log)
    listened = [(datetime.fromisoformat(at.replace("Z", "+00:00")).timestamp(), port) for at, port in said]
    # Two at first, both at once where they were there by then; then one that is back under its name, and one
    # under another; the third is nobody's gauge.
    names = [port for _, port in listened]
    assert [*sorted(names[:2]), *names[2:]] == ["ttyUSB0", "ttyUSB1", "ttyUSB1", "ttyUSB2"]
    for at_s, port in listened:
        noticed_s = at_s - max(since_s for since_s, same in attached if same == port and since_s < at_s)
        print(f"{port}: listened to {noticed_s:.2f} s after it was there")
        assert noticed_s <= NOTICED_MAX_S


async def _read_past_its_driver(machine: Machine, wheel: Wheel, adapter: str, serial: str) -> None:
    """The same adapter by libusb: its driver lets go for so long, and has it again."""
    (machine.job / "adapter.toml").write_text(THROUGH_LIBUSB)
    found = await machine.must(f"grep -lx {serial} /sys/bus/usb/devices/*/serial")
    place = Path(found.strip()).parent.name
    how = f"--profile /mnt/job/adapter.toml --seconds {CAPTURED_S} -o /mnt/job/adapter.cap"
    reading = asyncio.ensure_future(machine.must(wheel.command("capture", f"usb:{place}", how)))
    while not reading.done():
        machine.send(adapter, LINE)
        await asyncio.wait([reading], timeout=PERIOD_S)
    print(await reading)
    came = b"".join(piece.data for piece in read_capture(machine.job / "adapter.cap").pieces)
    first, *lines = came.split(LINE[-2:])
    assert LINE.endswith(first + LINE[-2:])
    assert len(lines) > 5
    assert {*lines[:-1]} == {LINE[:-2]}
    await machine.must(f"test -e /sys/bus/usb/devices/{place}:1.0/ttyUSB1")


async def _all_heard(crank: Crank, bay: Outside) -> None:
    """Since it was plugged in all that was sent was heard but for a beginning, when its port was not open
    yet."""
    sent, heard = crank.sent["first"], bay.readings["indicator-1"]

    def is_all() -> bool:
        return len(heard) > 20 and sent[-len(heard) :] == [round(value * NM_PER_MM) for value in heard]

    with contextlib.suppress(NothingHeardError):
        await bay.until(is_all, QUIET_S, "the last that was sent")
    if not is_all():
        told = f"sent {sent}, heard {heard}, numbers {bay.numbers['indicator-1']}"
        raise AssertionError(f"{await _which(bay)}: {told}")
    sent.clear()
    heard.clear()
    bay.numbers["indicator-1"].clear()


async def _which(bay: Outside) -> str:
    """Who lost what is missing. All that the daemon numbers leaves it; what it cannot read it counts, and
    leaves out a number for it."""
    numbers = bay.numbers["indicator-1"]
    said = await bay.health_now()
    counted, came = said.gauges["indicator-1"], bay.came["indicator-1"]
    if all(b == a + 1 for a, b in pairwise(numbers)):
        return f"no number is left out: it never came to the daemon, which counted {counted}"
    if counted.readings > came + said.readings_dropped:
        return f"lost between the daemon and here: it read {counted.readings}, here came {came}"
    return f"the daemon could not read it and left out a number, or dropped it; it counted {said}"


def _is_graded(bay: BayClient) -> bool:
    rim = bay.result.checks.rim if bay.result is not None else None
    return rim is not None and rim.outcome != "missing"


def _states(bay: BayClient) -> list[str]:
    return [state_of(bay, gauge) for gauge in ("indicator-1", "encoder-1")]
