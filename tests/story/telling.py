"""An inspection told in virtual time: damper, hand and gauges are simulated, all after them is what ships.

Framing, decoding and the instrument's own states, the bay's core, the journal, tagging, grading: from the
bytes that a virtual rig sends to the verdict, in a second or less. What a person does is a command.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self

from acquire.bay.bay import Bay
from acquire.bay.evidence import to_evidence
from acquire.bay.inspection import fold
from acquire.journal.events import Event
from acquire.journal.reader import JournalReader
from acquire.journal.writer import Journal
from config.files import shipped
from config.method import Method
from config.profile import GaugeProfile
from config.toml import read_toml
from contract.document import encode
from contract.result import Result, SurfaceCheck
from contract.units import NM_PER_MM
from grading.assess import assess
from grading.evidence import Inspection
from simulators.barring import NS_PER_S, BarringHand
from simulators.damper import Damper
from simulators.faults import Chunk, Stream
from simulators.gauge import Quantity, SimGauge
from simulators.plunger import PlungerFault
from simulators.rig import HAUL_TRUCK_DAMPER, haul_truck
from simulators.timeline import merged
from tests.acquire.hand_clock import HandClock
from tests.acquire.workbench import ENCODER, INDICATOR, SECOND, bay_files, flush
from tests.story.memory import Instruments

SEED = 11
INSPECTION = "I-1"
# Degrees barred for each surface: one turn, the overlap of 5 degrees, and what a hand pulls too far.
TURN_DEG = 370.0
# Seconds between two readings: some 700 a turn.
PERIOD_S = 0.04
# Seconds after the crank has come to a stop at which somebody presses the pedal; the hand rests for longer.
PRESS_AFTER_S = 0.4
# How finely the instruments' own waits are followed, ns: far below their shortest pause.
LOOK_NS = NS_PER_S // 20

Surface = Literal["rim", "face"]
Source = Literal["encoder", "marks"]
Fault = Callable[[Stream, random.Random, str], Iterator[Chunk]]
Spell = tuple[int, int]


@dataclass(frozen=True)
class Wire:
    """What a line does to the bytes, and when which gauge is unplugged."""

    fault: Fault = lambda stream, rng, gauge: iter(stream)
    away: Mapping[str, Spell] = field(default_factory=dict)


class Story:
    """One inspection, told by what a person does. A context manager."""

    def __init__(
        self,
        folder: Path,
        *,
        damper: Damper = HAUL_TRUCK_DAMPER,
        source: Source = "encoder",
        wire: Wire | None = None,
        seed: int = SEED,
        second: bool = False,
    ) -> None:
        folder.mkdir(exist_ok=True)
        self.source = source
        self.files = bay_files(folder, source, second=second)
        self.clock = HandClock()
        self.path = folder / "journal.db"
        self.journal = Journal(self.path)
        self.rng = random.Random(f"hand {seed}")
        self.second_on: Literal["rim", "face", "opposite"] = "opposite"
        self._second_felt: Quantity = self.second_nm
        encoder = read_toml(shipped("gauges", "encoder-degrees"), GaugeProfile)
        self.rig = haul_truck(self.files.profiles[INDICATOR], encoder, seed)
        self.rig.damper = damper
        self.rig.indicator.period_s = self.rig.encoder.period_s = PERIOD_S
        self._wire = wire or Wire()
        self._requests = 0
        self._looked_ns = 0
        self.bay = Bay(
            self.files.settings,
            self.files.method,
            self.files.profiles,
            self.journal,
            self.clock,
            lambda inspection, seq: None,
        )
        self.bay.resume()
        streams: dict[str, Stream] = {INDICATOR: self.rig.indicator_stream(start_ns=0)}
        if source == "encoder":
            streams[ENCODER] = self.rig.encoder_stream(start_ns=0)
        if second:
            second_gauge = self._second_gauge(seed)
            streams[SECOND] = second_gauge.stream(lambda time_ns: self._second_felt(time_ns), start_ns=0)
        self._instruments = Instruments(
            self.files, set(streams), self.clock, self.bay.take_reading, self.bay.gauge_changed
        )
        self._coming = merged(
            {
                gauge: self._wire.fault(stream, random.Random(f"{gauge} {seed}"), gauge)
                for gauge, stream in streams.items()
            }
        )
        self._next = next(self._coming)
        self._plugs = sorted(
            plug
            for gauge, (from_ns, to_ns) in self._wire.away.items()
            # Half a frame still comes through: the port goes after it.
            for plug in ((from_ns + round(PERIOD_S * NS_PER_S), gauge, True), (to_ns, gauge, False))
        )
        self.play_until(NS_PER_S)
        self.do("open", inspection=INSPECTION, engine="GQ-E-2207", damper="GQ-D-0815", scope="on-engine")

    # -- the second indicator

    def _second_gauge(self, seed: int) -> SimGauge:
        """Another of the same make, with noise of its own."""
        first = self.rig.indicator
        rng = random.Random(f"second {seed}")
        return SimGauge(
            first.profile, rng, resolution=1_000, noise=800.0, period_s=PERIOD_S, offset=250_000.0
        )

    def suffer(self, first: Sequence[PlungerFault] = (), second: Sequence[PlungerFault] = ()) -> None:
        """What goes wrong at either from now on; what moves the crank goes wrong at both."""
        self.rig.suffer(*first)
        self._second_felt = self.second_nm
        for fault in second:
            self._second_felt = fault.over(self._second_felt, self.rig.crank)

    def second_nm(self, time_ns: int) -> float:
        """What it feels: the rim or the face, or the face half a turn away from the first."""
        crank, damper = self.rig.crank, self.rig.damper
        angle, share = crank.angle_deg(time_ns), crank.float_share_at(time_ns)
        if self.second_on == "rim":
            return damper.rim_mm(angle) * NM_PER_MM
        opposite_deg = 180.0 if self.second_on == "opposite" else 0.0
        return damper.face_mm(angle + opposite_deg, share) * NM_PER_MM

    def switched_off(self, turn_deg: float, *faults: PlungerFault) -> None:
        """The indicator switches itself off, and is switched on again after so much has been barred."""
        self._instruments.unplug(INDICATOR)
        self.bar(turn_deg)
        self.rig.suffer(*faults)
        self._instruments.plug(INDICATOR)
        self.wait(2.0)

    # -- what a person does

    def ask(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        """A command; its reply, done or refused."""
        self._requests += 1
        said = {"id": f"r{self._requests}", "operator": "R. Example", **arguments}
        answer: dict[str, Any] = json.loads(self.bay.command(name, json.dumps(said).encode()).payload)
        flush(self.journal)  # its reply is not sent before
        return answer

    def do(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        """A command that is to be done; its reply."""
        answer = self.ask(name, **arguments)
        assert answer["ok"], answer
        return answer

    def refused(self, name: str, /, **arguments: Any) -> tuple[str, str]:
        """A command that is to be refused; the code and the sentence."""
        answer = self.ask(name, **arguments)
        assert not answer["ok"], answer
        return answer["error"]["code"], answer["error"]["message"]

    def look(self) -> None:
        """All that is looked at by eye is good."""
        items = [{"item": item.id, "seen": "good"} for item in self.files.method.observed["visual"].item]
        self.do("record", check="visual", items=items)

    def sweep(self, surface: Surface, *faults: PlungerFault) -> float:
        """Begin, bar over by a turn; the largest deviation that was shown live, mm."""
        self.begin(surface, *faults)
        shown = self.bar(TURN_DEG) if self.source == "encoder" else self.bar_by_marks()
        assert not self.bay.is_sweeping
        return shown

    def begin(self, surface: Surface, *faults: PlungerFault) -> None:
        """Stand the plunger on a surface, and begin."""
        self.rig.surface = surface
        self.rig.suffer(*faults)
        self.wait(1.0)
        self.do("begin", check=surface, gauge=INDICATOR)

    def bar(self, turn_deg: float) -> float:
        """Bar over, with marks pressing the pedal at each.

        Gives the largest deviation shown live while the sweep ran.
        """
        hand = BarringHand() if self.source == "encoder" else BarringHand(back_share=0.0)
        crank, now_ns = self.rig.crank, self.clock.now_ns
        path = hand.bar(self.rng, start_deg=crank.angle_deg(now_ns), turn_deg=turn_deg, start_ns=now_ns)
        crank.follow(path)
        stops = path.stops(hand.marks_deg) if self.source == "marks" else []
        due = [time_ns + round(PRESS_AFTER_S * NS_PER_S) for time_ns, _ in stops]
        shown = 0.0
        while self.clock.now_ns < path.end_ns or due:
            until_ns = self.clock.now_ns + NS_PER_S // 5
            self.play_until(min([until_ns, *due[:1]]))
            if due and due[0] <= self.clock.now_ns:
                due.pop(0)
                self.pressed()
            live = self.bay.live()
            if self.bay.is_sweeping and live is not None:
                shown = live.max_deviation_mm or 0.0
        self.wait(0.5)
        return shown

    def pressed(self) -> None:
        """What comes of a press of the pedal at a mark."""
        self.do("mark")

    def bar_by_marks(self) -> float:
        """To the next mark, where the sweep's angles begin, and a turn on from there."""
        marks = BarringHand().marks_deg
        angle_deg = self.rig.crank.angle_deg(self.clock.now_ns)
        to_next_deg = min((mark - angle_deg) % 360.0 or 360.0 for mark in marks)
        return self.bar(to_next_deg + 360.0)

    def wait(self, seconds: float) -> None:
        """The crank stands, and the gauges go on."""
        self.play_until(self.clock.now_ns + round(seconds * NS_PER_S))

    def finish(self) -> Result:
        """Close and sign, insisting where the bay asks, which it does of all but a keep; the result.

        What the checks came to is kept before, as the daemon's grader does: closing and signing read it.
        """
        evidence, method = self.evidence()
        self.journal.put_result(INSPECTION, evidence.revision, encode(assess(evidence, method)), "")
        flush(self.journal)
        self.do("close", inspection=INSPECTION)
        signing = {"inspection": INSPECTION, "name": "R. Example"}
        answer = self.ask("sign", **signing)
        if not answer["ok"]:
            assert answer["error"]["code"] == "ask-once", answer
            self.do("sign", sure=True, **signing)
        result = self.result()
        assert answer["ok"] is (result.verdict == "keep"), answer
        return result

    # -- what comes of it

    def result(self) -> Result:
        """What the journal alone says of the inspection so far."""
        evidence, method = self.evidence()
        return assess(evidence, method)

    def evidence(self) -> tuple[Inspection, Method]:
        """What the journal's events add up to."""
        state = fold(self.events())
        return to_evidence(state), Method.model_validate(state.opened.method)

    def events(self) -> list[Event]:
        """What the journal holds, everything written."""
        flush(self.journal)
        reader = JournalReader(self.path)
        try:
            return reader.read(INSPECTION)
        finally:
            reader.close()

    # -- what time brings

    def play_until(self, time_ns: int) -> None:
        """Bytes come, cables are pulled and put back, until then."""
        while self._next[0] < time_ns:
            now_ns, gauge, data = self._next
            self._next = next(self._coming)
            self._pass(now_ns)
            self._instruments.send(gauge, data, now_ns)
        self._pass(time_ns)

    def _pass(self, time_ns: int) -> None:
        while self._plugs and self._plugs[0][0] < time_ns:
            at_ns, gauge, goes = self._plugs.pop(0)
            self._instruments.at(at_ns)
            (self._instruments.unplug if goes else self._instruments.plug)(gauge)
        while self._looked_ns + LOOK_NS <= time_ns:
            self._looked_ns += LOOK_NS
            self._instruments.at(self._looked_ns)
        self.clock.advance_to(time_ns)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._instruments.close()
        self.journal.close()


class Insisting(Story):
    """Told by somebody who, asked whether the crank was turned since the last mark, says that it was."""

    questions = 0

    def pressed(self) -> None:
        answer = self.ask("mark")
        if answer["ok"]:
            return
        assert answer["error"]["code"] == "pressed-twice", answer
        assert "check that the plunger touches" in answer["error"]["message"]
        self.questions += 1
        self.do("mark", sure=True)


def check_of(result: Result, surface: str) -> SurfaceCheck:
    """The check of one surface."""
    check = result.checks.by_name()[surface]
    assert isinstance(check, SurfaceCheck)
    return check


def running_out(*, rim_mm: float = 0.1, face_mm: float = 0.1, at_deg: float = 41.0) -> Damper:
    """A damper whose rim and face run out by so much, without anything else to them (plane geometry:
    an offset e gives 2 e; a small tilt a, read at radius r, 2 r a); the crests are at `at_deg`."""
    return Damper(
        eccentricity_mm=rim_mm / 2,
        eccentricity_deg=at_deg,
        face_radius_mm=150.0,
        tilt_mrad=1000.0 * face_mm / 300.0,
        tilt_deg=at_deg,
    )
