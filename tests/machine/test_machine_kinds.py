"""Gauges of every kind of port, and a foot switch, by the kernel's own drivers and through libusb."""

from __future__ import annotations

import contextlib
import json
import shutil
from pathlib import Path

import pytest

from link.errors import NothingHeardError
from tests.machine.boot import HERE, Boot
from tests.machine.machine import Machine, running
from tests.machine.stage import LONG_S, Outside, Wheel, daemon, state_of

pytestmark = [pytest.mark.machine, pytest.mark.heavy]

# Of the keyboard the numbers are those that the emulator's tells, of the others those of nobody's gauges.
BAY = """\
[[gauge]]
id = "indicator-1"
profile = "hid-reports"
usb = { vendor = 0x1209, product = 2, serial = "H1" }
resolution_mm = 0.001
mpe_mm = 0.004
[[gauge]]
id = "micrometer-1"
profile = "usb-requested"
usb = { vendor = 0x1209, product = 3, serial = "V1" }
resolution_mm = 0.001
mpe_mm = 0.004
[[gauge]]
id = "typed-1"
profile = "typed-mm"
usb = { vendor = 0x0627, product = 0x0001 }
resolution_mm = 0.001
mpe_mm = 0.004
[angle]
source = "marks"
marks_deg = [0, 120, 240]
[angle.press]
kind = "modem-line"
line = "dsr"
usb = { vendor = 0x1209, product = 4, serial = "M1" }
"""
PRESS_AGAIN_S, PRESSES_MAX = 5.0, 30
MODULES = "libcomposite usb_f_hid usb_f_fs usb_f_acm"
GAUGES = ("indicator-1", "micrometer-1", "typed-1")


async def test_reports_endpoints_a_keyboard_and_a_foot_switch(boot: Boot, wheel: Wheel, folder: Path) -> None:
    async with running(boot, folder, keyboard=True, modules=MODULES) as machine:
        await machine.must("modprobe dummy_hcd num=3")
        shutil.copy(HERE / "guest/gadgets.py", machine.job)
        gadgets = f"{wheel.python} /mnt/job/gadgets.py"
        await machine.must(f"({gadgets} >/mnt/job/gadgets.log 2>&1 &)")
        await machine.must("until [ -e /dev/ttyACM0 ] && [ -e /dev/ttyGS0 ]; do sleep 0.5; done")
        await _reports_are_shown(machine, wheel)
        async with daemon(machine, wheel, BAY) as bay:
            await bay.until(lambda: _all(bay) == ["connected"] * 3, LONG_S, "all gauges")
            await _typed(machine, bay)
            await bay.until(lambda: len(bay.readings["micrometer-1"]) > 3, LONG_S, "answers")
            assert set(bay.readings["indicator-1"]) == {-0.19}
            assert set(bay.readings["micrometer-1"]) == {12.3456}
            assert set(bay.readings["typed-1"]) == {12.345}

            await bay.command("open", engine="GQ-E-2207", damper="GQ-D-0815", scope="on-engine")
            # Whoever opens the far side of the modem raises its DSR: the foot switch is pressed.
            await machine.must("exec 9</dev/ttyGS0; sleep 2")
            await bay.until(lambda: bay.marks == [0.0], LONG_S, "the mark")

            await machine.must(f"{gadgets} --without hid")
            await bay.until(lambda: state_of(bay, "indicator-1") == "absent", LONG_S, "its absence")
            bay.readings["indicator-1"].clear()
            await machine.must(f"{gadgets} --with hid")
            await bay.until(lambda: bool(bay.readings["indicator-1"]), LONG_S, "its return")

            told = json.loads(await machine.must(wheel.command("gauges", "--json", "--config", "bay.toml")))
            by_gauge = {one["gauge"]: one for one in told if one["gauge"] is not None}
            assert set(by_gauge) == set(GAUGES)
            assert [by_gauge[gauge]["kind"] for gauge in GAUGES] == ["hid", "usb", "keyboard"]
            assert [by_gauge[gauge]["in_use"] for gauge in GAUGES[:2]] == [True, True]
            (foot,) = [one for one in told if one["serial"] == "M1"]
            assert (foot["kind"], foot["in_use"], foot["heard_hex"]) == ("serial", True, None)


async def _reports_are_shown(machine: Machine, wheel: Wheel) -> None:
    """Before it is anybody's: beside its driver, which keeps it."""
    told = json.loads(await machine.must(wheel.command("gauges", "--json", "--seconds", "4")))
    (reports,) = [one for one in told if one["serial"] == "H1"]
    assert (reports["kind"], reports["profiles"], reports["reads"]) == ("hid", ["hid-reports"], "-0.190 mm")
    assert 'profile = "hid-reports"' in reports["block"]
    await machine.must("ls /sys/bus/usb/drivers/usbhid/ | grep -q :1.0")


async def _typed(machine: Machine, bay: Outside) -> None:
    """Pressed again and again: a line that came with a pause in it, as from a slow machine, is no reading."""
    for _ in range(PRESSES_MAX):
        await machine.type("+012.345\n")
        with contextlib.suppress(NothingHeardError):
            await bay.until(lambda: bool(bay.readings["typed-1"]), PRESS_AGAIN_S, "what was typed")
            return
    raise AssertionError("nothing that was typed was read")


def _all(bay: Outside) -> list[str]:
    return [state_of(bay, gauge) for gauge in GAUGES]
