"""A bay without loop, network or ports, on a clock wound by hand: what the tests of the core work on."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any, Literal

from acquire.bay.bay import Bay
from acquire.bay.inspection import InspectionState, fold
from acquire.journal.events import Event
from acquire.journal.writer import Journal
from config.bay import BayFiles, read_bay
from contract.units import Unit
from drivers.reading import Reading
from drivers.state import GaugeState, PortState
from tests.acquire.hand_clock import HandClock

INDICATOR, ENCODER, KEYED = "indicator-1", "encoder-1", "micrometer-1"
SECOND = "indicator-2"

_CONFIG = """
[bay]
site = "greywacke"
name = "bay-2"
[method]
file = "example"
[[gauge]]
id = "indicator-1"
profile = "line-mm"
port = "/dev/indicator"
resolution_mm = 0.001
mpe_mm = 0.004
calibration_due = 2027-06-01
[[gauge]]
id = "micrometer-1"
profile = "line-key-mm"
port = "/dev/micrometer"
resolution_mm = 0.001
mpe_mm = 0.004
"""
_SECOND = """
[[gauge]]
id = "indicator-2"
profile = "line-mm"
port = "/dev/indicator-2"
resolution_mm = 0.001
mpe_mm = 0.004
"""
_ENCODER = """
[[gauge]]
id = "encoder-1"
profile = "encoder-degrees"
port = "/dev/encoder"
[angle]
source = "encoder"
gauge = "encoder-1"
"""
_MARKS = """
[angle]
source = "marks"
marks_deg = [0, 120, 240]
"""
Source = Literal["encoder", "encoder with stops", "marks", "dwells"]
_ANGLES: dict[Source, str] = {
    "encoder": _ENCODER,
    "encoder with stops": _ENCODER + "marks_deg = [0, 120, 240]\n",
    "marks": _MARKS,
    "dwells": _MARKS.replace('"marks"', '"dwells"'),
}


def bay_files(folder: Path, source: Source = "encoder", *, second: bool = False) -> BayFiles:
    """A bay's configuration. second: it has two indicators."""
    file = folder / "bay.toml"
    file.write_text(_CONFIG + (_SECOND if second else "") + _ANGLES[source])
    return read_bay(file, {})


class Workbench:
    """One bay on one journal; `restart()` is what a new start of the daemon does."""

    def __init__(
        self,
        folder: Path,
        source: Source = "encoder",
        software: str = "ringtrue test",
        *,
        second: bool = False,
        **journal: Any,
    ) -> None:
        self.files = bay_files(folder, source, second=second)
        self.path = folder / "journal.db"
        self.clock = HandClock(now_ns=1_000_000_000)
        self.changed: list[tuple[str, int]] = []
        self.software = software
        self._journal_options = journal
        self._requests = 0
        self._numbers: dict[str, int] = {}
        self.journal: Journal
        self.bay: Bay
        self.start()

    def start(self) -> None:
        """Open the journal and take up what it holds; all gauges are there."""
        self.journal = Journal(self.path, **self._journal_options)
        self.bay = Bay(
            self.files.settings,
            self.files.method,
            self.files.profiles,
            self.journal,
            self.clock,
            lambda inspection, seq: self.changed.append((inspection, seq)),
            software=self.software,
        )
        self.bay.resume()
        self._numbers.clear()
        for gauge in self.files.settings.gauge:
            self.gauge(gauge.id, PortState.LIVE)

    def restart(self, *, now_ns: int | None = None) -> None:
        """Stop and start again; now_ns: what the monotonic clock then says, as after a boot."""
        self.journal.close()
        if now_ns is not None:
            self.clock.epoch = self.clock.utc()
            self.clock = HandClock(now_ns=now_ns, epoch=self.clock.epoch)
        self.start()

    def gauge(self, gauge: str, state: PortState, reason: str = "unplugged") -> None:
        """A gauge goes or comes."""
        self.bay.gauge_changed(GaugeState(gauge, state, reason, self.clock.now_ns, None))

    def wait(self, seconds: float) -> None:
        """Time passes."""
        self.clock.now_ns += round(seconds * 1e9)

    def read(self, gauge: str, value: int, unit: Unit = Unit.NM, *, skip: int = 0) -> Reading:
        """One reading; skip: numbers of frames that were rejected before it."""
        number = self._numbers.get(gauge, -1) + 1 + skip
        self._numbers[gauge] = number
        reading = Reading(gauge, number, self.clock.now_ns, value, unit)
        self.bay.take_reading(reading)
        return reading

    def bar(self, start_deg: int, until_deg: int, *, step_deg: int = 1, value_nm: int = 1_000) -> None:
        """Turn the crank at 100 degrees a second, encoder and indicator read at each step, in a sweep."""
        for angle in range(start_deg, until_deg, step_deg):
            if not self.bay.is_sweeping:
                return
            self.wait(abs(step_deg) / 100)
            self.read(ENCODER, angle % 360 * 1_000_000, Unit.UDEG)
            self.read(INDICATOR, value_nm + angle % 360)

    def send(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        """A command with an id of its own; its reply."""
        self._requests += 1
        return self.send_raw(name, {"id": f"request-{self._requests}", "operator": "R. Example", **arguments})

    def send_raw(self, name: str, said: dict[str, Any]) -> dict[str, Any]:
        """A command as it is; its reply."""
        answer: dict[str, Any] = json.loads(self.bay.command(name, json.dumps(said).encode()).payload)
        return answer

    def do(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        """A command that is to be done; its reply."""
        reply = self.send(name, **arguments)
        assert reply["ok"], reply
        return reply

    def refused(self, name: str, /, **arguments: Any) -> str:
        """A command that is to be refused, with nothing changed; the code."""
        before = self.state() if self.bay.latest else None
        reply = self.send(name, **arguments)
        assert not reply["ok"], reply
        assert (self.state() if self.bay.latest else None) == before
        assert "\n" not in reply["error"]["message"]
        return str(reply["error"]["code"])

    def open(self, inspection: str = "truck-14", **arguments: Any) -> str:
        """Open an inspection; its id."""
        said = {"engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine", **arguments}
        return str(self.do("open", inspection=inspection, **said)["inspection"])

    def state(self, inspection: str | None = None) -> InspectionState:
        """What the journal's committed events say, everything written first."""
        self.flush()
        name = inspection or self.bay.latest
        assert name is not None
        return fold(self.journal.read(name))

    def journal_events(self) -> list[Event]:
        """The committed events of the latest inspection, everything written first."""
        self.flush()
        return self.journal.read(self.bay.latest or "")

    def flush(self) -> None:
        """Wait for the journal's thread."""
        flush(self.journal)

    def close(self) -> None:
        """Let go of the journal."""
        self.journal.close()


def flush(journal: Journal) -> None:
    """Everything handed over is on the disk afterwards."""
    asyncio.run(journal.flushed())
