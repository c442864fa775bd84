"""Unknown gauges on a simulated bus and a simulated board, through the ports that `ringtrue learn` opens."""

from __future__ import annotations

import random
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from functools import partial
from pathlib import Path

import pytest

from config.profile import GaugeProfile, HidPort, KeyboardPort, UsbPort
from drivers.encoding import Encoder
from drivers.errors import PortAbsentError, PortError
from drivers.proof import failures
from drivers.transports.keyboard import open_keyboard
from drivers.transports.usb import open_usb, sends_reports
from ringtrue.learning import Learning, Move, Trying
from ringtrue.unknown import UnknownLine
from simulators.plugged import TypingGauge, UsbGauge
from simulators.usb_bus import SimUsbBus
from tests.drivers.learn.kinds import unset
from tests.drivers.support import profile

pytestmark = pytest.mark.slow

PLACE, ANSWER_S = "usb:1-2", 10.0


class Bench:
    """Somebody who moves a gauge, which sends of itself, when it is asked, or as its key is pressed."""

    def __init__(self, kind: GaugeProfile, send: Callable[[bytes], None], every_s: float) -> None:
        self._encoder, self._send, self._every_s = Encoder(kind), send, every_s
        self._of_itself = kind.manner.kind == "free-running"
        self._over = threading.Event()
        self._rng = random.Random(1)
        self._at: float | None = 0.0
        self._frames = 0

    def asked(self, move: Move) -> None:
        self._at = {"in": 1.0, "out": -1.0, "travel": None}.get(move, self._at)
        self._of_itself = self._of_itself or move == "press"

    def told(self, sentence: str) -> None:
        """Heard."""

    def sends(self) -> None:
        """One frame of where it stands, or of where it is just now on its way."""
        self._frames += 1
        at = self._at if self._at is not None else 24.0 * abs(self._frames / 80 % 1.0 - 0.5) - 6.0
        self._send(self._encoder.frame(round(at * 1000 + self._rng.randint(0, 1)) * 1000))

    def run(self) -> None:
        while not self._over.wait(self._every_s):
            if self._of_itself:
                self.sends()

    @contextmanager
    def at_work(self) -> Iterator[None]:
        thread = threading.Thread(target=self.run)
        thread.start()
        try:
            yield
        finally:
            self._over.set()
            thread.join()


def learnt(line: UnknownLine, bench: Bench, kind: GaugeProfile) -> GaugeProfile:
    trying = Trying(
        "length", (Fraction(1), Fraction(-1)), may_transmit=kind.manner.kind == "requested",
        requests=("\r", "?"), ports=unset(kind.port),
    )  # fmt: skip
    with bench.at_work(), line:
        verdict = Learning(line, bench, trying).run().verdict
    assert verdict.answer == "found", verdict
    found = verdict.readings[0].profile
    assert failures(found) == []
    assert found.manner.kind == kind.manner.kind
    return found


@pytest.mark.parametrize("name", ["usb-lines", "usb-requested", "hid-reports", "hid-checked-mm"])
def test_a_gauge_on_the_bus_is_learnt(name: str) -> None:
    kind, bus = profile(name), SimUsbBus()
    # It answers to a word that is tried: which ones are is `ringtrue.learning.REQUESTS`.
    gauge = UsbGauge(kind, "A7", on_request=lambda data: bench.sends() if data == b"?" else None)
    bench = Bench(kind, gauge.send, 0.02)
    bus.plug(gauge.device, "1-2")
    assert sends_reports(PLACE, bus) is isinstance(kind.port, HidPort)
    found = learnt(UnknownLine(PLACE, partial(open_usb, bus=bus)), bench, kind)
    assert found.port.kind == kind.port.kind
    if isinstance(found.port, UsbPort) and isinstance(kind.port, UsbPort):
        assert found.port.apart is kind.port.apart
    assert not bus.opened, "what was opened is closed"


def test_a_gauge_that_types_is_learnt(tmp_path: Path) -> None:
    kind = profile("typed-mm")
    gauge = TypingGauge(kind, tmp_path / "board")
    gauge.board.plug()
    taken: list[int] = []
    bench = Bench(kind, gauge.send, 0.4)
    line = UnknownLine(str(gauge.board.path), partial(open_keyboard, grab=taken.append, settle_s=0.0))
    found = learnt(line, bench, kind)
    assert found.port == KeyboardPort(kind="keyboard")
    assert len(taken) == 1, "it is taken, so that it types into nothing else"


def test_what_is_not_there_or_not_for_us_is_said() -> None:
    bus = SimUsbBus()
    with pytest.raises(PortAbsentError, match="plug the gauge in"):
        sends_reports(PLACE, bus)
    gauge = UsbGauge(profile("hid-reports"), "A7")
    bus.plug(gauge.device, "1-2")
    gauge.device.may_be_opened = False
    with pytest.raises(PortError, match="--udev"):
        sends_reports(PLACE, bus)
