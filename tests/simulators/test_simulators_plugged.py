"""Each gauge on USB, through the drivers: what it shows is what is read."""

from __future__ import annotations

import random
from functools import partial
from pathlib import Path

import pytest

from config.files import shipped_names
from config.profile import GaugeProfile, HidPort, KeyboardPort, Requested, UsbPort
from contract.units import NM_PER_MM
from drivers.finding import find_port
from drivers.state import PortState
from drivers.transports.keyboard import open_keyboard
from drivers.transports.usb import open_usb
from drivers.transports.usb_devices import listed_usb
from simulators.gauge import SimGauge
from simulators.plugged import PRODUCT, VENDOR, TypingGauge, UsbGauge
from simulators.usb_bus import SimUsbBus
from tests.drivers.support import Heard, profile, running, settings

NAMES = [name for name in shipped_names("gauges") if isinstance(profile(name).port, UsbPort | HidPort)]
TYPING = profile("typed-mm")
VALUES_MM = (0.19, -0.08, 12.345, 0.0)
VALUES_NM = [round(value * NM_PER_MM) for value in VALUES_MM]


def test_there_are_gauges_on_usb() -> None:
    assert set(NAMES) == {"usb-lines", "usb-requested", "hid-reports", "hid-checked-mm"}


def shown(kind: GaugeProfile) -> list[bytes]:
    """Frames of a gauge that shows the values one after another."""
    gauge = SimGauge(kind, random.Random(1), resolution=1_000)
    return [gauge.press(partial(_at, value), 0)[1] for value in VALUES_MM]


def _at(value_mm: float, time_ns: int) -> float:
    return value_mm * NM_PER_MM


@pytest.mark.parametrize("name", NAMES)
async def test_a_gauge_on_usb_is_read_as_it_shows(name: str) -> None:
    heard = Heard()
    kind, bus = profile(name), SimUsbBus()
    frames = iter(shown(kind))
    asked: list[bytes] = []

    def answer(request: bytes) -> None:
        asked.append(request)
        gauge.send(next(frames, b""))

    gauge = UsbGauge(kind, "A7", answer)
    bus.plug(gauge.device, "1-4.2")
    usb = {"vendor": VENDOR, "product": PRODUCT, "serial": "A7"}
    async with running(
        settings(usb=usb),
        kind,
        heard,
        opener=lambda name, port: open_usb(name, port, bus),
        finder=lambda of, port: find_port(of, port, lambda _: listed_usb(bus)),
    ):
        await heard.until_state(PortState.HUNTING, PortState.LIVE)
        if not isinstance(kind.manner, Requested):
            gauge.send(b"\r\n" if not kind.port.apart else b"")  # it was heard from within a line on
            for frame in frames:
                gauge.send(frame)
        await heard.until_readings(len(VALUES_NM))
    assert heard.values == VALUES_NM
    assert all(request == kind.manner.request_bytes for request in asked)


@pytest.mark.parametrize(
    "port",
    [KeyboardPort(kind="keyboard"), KeyboardPort(kind="keyboard", layout="german")],
    ids=["us", "german"],
)
async def test_a_gauge_that_types_is_read_as_it_shows(port: KeyboardPort, tmp_path: Path) -> None:
    heard = Heard()
    kind = TYPING.model_copy(update={"port": port})
    gauge = TypingGauge(kind, tmp_path / "event5")
    gauge.board.plug()
    async with running(
        settings(str(gauge.board.path)),
        kind,
        heard,
        opener=lambda name, port: open_keyboard(name, port, lambda _: None, settle_s=0),
    ):
        await heard.until_state(PortState.LIVE)
        for frame in shown(kind):
            gauge.send(frame)
        await heard.until_readings(len(VALUES_NM))
    gauge.board.unplug()
    assert heard.values == VALUES_NM
