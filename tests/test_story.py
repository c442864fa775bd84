"""One inspection from damper to result, in virtual time, over perfect and bad lines.

Damper, hand and gauges are simulated; everything between the wire and the result document is what
ships: framing, decoding, the bay's core, the journal, tagging, grading. What is expected follows from
the damper's geometry, never from what was computed before.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import pytest

from acquire.bay import Bay
from acquire.clock import HandClock
from acquire.commands import Reply
from acquire.inspection import fold, to_evidence
from acquire.journal import Journal
from acquire.journal_reader import JournalReader
from config.bay import BayFiles
from config.method import Method
from drivers.assembly import Assembler
from drivers.reading import Reading
from drivers.state import GaugeState, PortState
from grading.assess import assess
from grading.document import decode, encode
from grading.evidence import Inspection, Sweep
from grading.result import Result, SurfaceCheck
from ringtrue.demo_folder import ENCODER, INDICATOR, DemoFolder
from simulators import faults
from simulators.barring import NS_PER_S, BarringHand
from simulators.damper import tir_mm
from simulators.faults import Chunk, Stream
from simulators.rig import HAUL_TRUCK_DAMPER, Rig, haul_truck
from simulators.timeline import merged
from tests.acquire.workbench import flush

SEED = 11
# Degrees barred for each surface: one turn, the overlap of 5 degrees, and what a hand pulls too far.
TURN_DEG = 370.0
# The largest error of a run-out that a good line may leave, mm: the indicator's permissible error is
# not simulated, its step is 1 µm and its noise 0.8 µm.
TIR_WITHIN_MM = 0.003
# The largest error of the first harmonic's crest, degrees: the encoder's step is 0.1, and a line that
# delays by up to 30 ms moves some readings by 0.7.
CREST_WITHIN_DEG = 1.0
# Seconds between two readings: some 700 a turn.
PERIOD_S = 0.04
# What a sweep that ended by itself covers at least: 365 degrees less the readings after the encoder's
# last, which have no angle (a reading or two at the hand's fastest pace).
COVERED_DEG = 363.0

Fault = Callable[[Stream, random.Random, str], Iterator[Chunk]]
Spell = tuple[int, int]


def spell(from_s: float, to_s: float) -> Spell:
    return round(from_s * NS_PER_S), round(to_s * NS_PER_S)


# Within the first turn the hand pulls on steadily between the marks at 120 and 240 degrees.
PULLING_S = 10.0


@dataclass(frozen=True)
class Line:
    """What a line does to the bytes, when which gauge is unplugged, and what must come of it.

    loses: readings are known to be lost: frames spoilt, or no encoder to give them an angle.
    """

    fault: Fault
    away: Mapping[str, Spell] = field(default_factory=dict)
    rim: Literal["within", "invalid"] = "within"
    loses: bool = False
    same_as_perfect: bool = False


def plain(stream: Stream, rng: random.Random, gauge: str) -> Iterator[Chunk]:
    return iter(stream)


def only(gauge: str, fault: Callable[[Stream], Iterator[Chunk]]) -> Fault:
    return lambda stream, rng, name: fault(stream) if name == gauge else iter(stream)


LINES = {
    "perfect": Line(plain, same_as_perfect=True),
    "one byte at a time": Line(lambda stream, rng, _: faults.bytewise(stream, 80_000), same_as_perfect=True),
    "split anywhere": Line(lambda stream, rng, _: faults.split(stream, rng, 80_000), same_as_perfect=True),
    "delayed": Line(lambda stream, rng, _: faults.delayed(stream, rng, 30_000_000)),
    "lossy": Line(lambda stream, rng, _: faults.lossy(stream, rng, 0.001), loses=True),
    "doubled": Line(lambda stream, rng, _: faults.doubled(stream)),
    "stuck": Line(only(INDICATOR, lambda stream: faults.stuck(stream, [spell(PULLING_S, PULLING_S + 0.3)]))),
    "garbage": Line(lambda stream, rng, _: faults.garbage(stream, rng, 0.01), loses=True),
    "unplugged mid-frame": Line(
        only(INDICATOR, lambda stream: faults.unplugged(stream, [spell(PULLING_S, PULLING_S + 0.8)])),
        away={INDICATOR: spell(PULLING_S, PULLING_S + 0.8)},
        loses=True,
    ),
    "encoder unplugged mid-frame": Line(
        only(ENCODER, lambda stream: faults.unplugged(stream, [spell(PULLING_S, PULLING_S + 0.8)])),
        away={ENCODER: spell(PULLING_S, PULLING_S + 0.8)},
        loses=True,
    ),
    "unplugged for long": Line(
        only(INDICATOR, lambda stream: faults.unplugged(stream, [spell(PULLING_S, PULLING_S + 6.0)])),
        away={INDICATOR: spell(PULLING_S, PULLING_S + 6.0)},
        rim="invalid",
        loses=True,
    ),
}


class Story:
    """The bay's core between simulated lines and a journal, on a clock that the lines wind."""

    def __init__(self, folder: Path, files: BayFiles, rig: Rig, line: Line) -> None:
        self.clock = HandClock()
        self.journal = Journal(folder / "journal.db")
        self.rig = rig
        self._line = line
        self._method = files.method
        self._assemblers = {gauge: Assembler(gauge, files.profiles[gauge]) for gauge in (INDICATOR, ENCODER)}
        self._live: dict[str, bool] = {}
        self._requests = 0
        self.bay = Bay(
            files.settings,
            files.method,
            files.profiles,
            self.journal,
            self.clock,
            lambda inspection, seq: None,
        )
        self.bay.resume()
        streams: dict[str, Stream] = {
            INDICATOR: rig.indicator_stream(start_ns=0),
            ENCODER: rig.encoder_stream(start_ns=0),
        }
        self._story = merged(
            {
                gauge: line.fault(stream, random.Random(f"{gauge} {SEED}"), gauge)
                for gauge, stream in streams.items()
            }
        )
        self._next = next(self._story)

    def do(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        self._requests += 1
        said = {"id": f"r{self._requests}", "operator": "A. Person", **arguments}
        reply: Reply = self.bay.command(name, json.dumps(said).encode())
        answer: dict[str, Any] = json.loads(reply.payload)
        assert answer["ok"], answer
        return answer

    def play_until(self, time_ns: int) -> None:
        while self._next[0] < time_ns:
            now_ns, gauge, data = self._next
            self._next = next(self._story)
            self.clock.advance_to(now_ns)
            for reading in self._assemblers[gauge].feed(data, now_ns):
                self._take(reading)
            self._notice_unplugged(now_ns)
        self.clock.advance_to(time_ns)

    def _notice_unplugged(self, now_ns: int) -> None:
        for gauge, (from_ns, to_ns) in self._line.away.items():
            if from_ns < now_ns < to_ns and self._live.get(gauge):
                self._live[gauge] = False
                self.bay.gauge_changed(
                    GaugeState(gauge, PortState.LOST, "the far side is gone", now_ns, None)
                )
                self._assemblers[gauge].restart()

    def _take(self, reading: Reading) -> None:
        if not self._live.get(reading.gauge):
            self._live[reading.gauge] = True
            now_ns = self.clock.now_ns
            self.bay.gauge_changed(GaugeState(reading.gauge, PortState.LIVE, "on a port", now_ns, reading))
        self.bay.take_reading(reading)

    def sweep(self, surface: Literal["rim", "face"], rng: random.Random) -> float:
        """Begin, bar over by a turn; the largest deviation that was shown live, mm."""
        self.rig.surface = surface
        self.play_until(self.clock.now_ns + NS_PER_S)
        self.do("begin", check=surface, gauge=INDICATOR)
        now_ns = self.clock.now_ns
        crank = self.rig.crank
        path = BarringHand().bar(rng, start_deg=crank.angle_deg(now_ns), turn_deg=TURN_DEG, start_ns=now_ns)
        crank.follow(path)
        shown = 0.0
        while self.clock.now_ns < path.end_ns:
            self.play_until(self.clock.now_ns + NS_PER_S // 5)
            live = self.bay.live()
            if self.bay.is_sweeping and live is not None:
                shown = live.max_deviation_mm or 0.0
        assert not self.bay.is_sweeping
        return shown


@dataclass(frozen=True)
class Told:
    """The result document; what the live figure last showed and how many readings were lost, by surface."""

    document: bytes
    shown_mm: dict[str, float]
    lost: dict[str, int]


def tell(folder: Path, line: Line) -> Told:
    """The whole inspection."""
    folder.mkdir()
    files = DemoFolder(folder).prepare()
    rig = haul_truck(files.profiles[INDICATOR], files.profiles[ENCODER], SEED)
    rig.indicator.period_s = rig.encoder.period_s = PERIOD_S
    story = Story(folder, files, rig, line)
    try:
        hand = random.Random(f"hand {SEED}")
        story.play_until(NS_PER_S)
        story.do("open", inspection="I-1", engine="GQ-E-2207", damper="GQ-D-0815", scope="on-engine")
        items = [{"item": item.id, "seen": "good"} for item in files.method.observed["visual"].item]
        story.do("record", check="visual", items=items)
        shown = {"rim": story.sweep("rim", hand), "face": story.sweep("face", hand)}
        story.do("close", inspection="I-1")
        flush(story.journal)
        sure = {} if line.rim == "within" else {"sure": True}
        story.do("sign", inspection="I-1", name="R. Example", **sure)
    finally:
        story.journal.close()
    evidence, method = journalled(folder / "journal.db")
    sweeps = {name: evidence.attempts[name][0] for name in ("rim", "face")}
    lost = {name: sweep.lost for name, sweep in sweeps.items() if isinstance(sweep, Sweep)}
    return Told(encode(assess(evidence, method)), shown, lost)


def journalled(journal: Path) -> tuple[Inspection, Method]:
    """What the journal alone says of the inspection."""
    reader = JournalReader(journal)
    try:
        state = fold(reader.read("I-1"))
    finally:
        reader.close()
    return to_evidence(state), Method.model_validate(state.opened.method)


def crest_deg(surface: Callable[[float], float]) -> float:
    """Where the first harmonic of a surface is highest (discrete Fourier sum over 720 places)."""
    turn = [2 * math.pi * place / 720 for place in range(720)]
    along = sum(surface(math.degrees(angle)) * math.cos(angle) for angle in turn)
    across = sum(surface(math.degrees(angle)) * math.sin(angle) for angle in turn)
    return math.degrees(math.atan2(across, along)) % 360.0


@pytest.fixture(scope="module")
def perfect(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return tell(tmp_path_factory.mktemp("perfect") / "told", LINES["perfect"]).document


def check_of(result: Result, surface: str) -> SurfaceCheck:
    check = result.checks.by_name()[surface]
    assert isinstance(check, SurfaceCheck)
    return check


@pytest.mark.slow
@pytest.mark.parametrize("name", LINES)
def test_one_inspection_over_a_line(name: str, tmp_path: Path, perfect: bytes) -> None:
    line = LINES[name]
    told = tell(tmp_path / "once", line)
    assert told == tell(tmp_path / "again", line)
    assert (told.document == perfect) is line.same_as_perfect
    assert (told.lost["rim"] > 0) is line.loses

    result = decode(told.document)
    damper = HAUL_TRUCK_DAMPER
    assert (result.state, result.signed_by) == ("signed", "R. Example")
    assert result.checks.visual is not None
    assert result.checks.visual.outcome == "good"
    for surface, value_mm in (("rim", damper.rim_mm), ("face", damper.face_mm)):
        check = check_of(result, surface)
        if surface == "rim" and line.rim == "invalid":
            assert check.outcome == "invalid"
            assert "gap" in check.reason
            continue
        true_mm = tir_mm(value_mm)
        assert check.outcome == "within", check.reason
        assert check.true_tir_mm is not None
        assert check.u_expanded_mm is not None
        assert check.true_tir_mm == pytest.approx(true_mm, abs=TIR_WITHIN_MM)
        assert abs(check.true_tir_mm - true_mm) <= check.u_expanded_mm
        assert check.tir_mm == pytest.approx(true_mm, abs=2 * TIR_WITHIN_MM)
        assert check.high_spot_deg == pytest.approx(crest_deg(value_mm), abs=CREST_WITHIN_DEG)
        assert told.shown_mm[surface] == pytest.approx(check.tir_mm, abs=TIR_WITHIN_MM)
        assert check.covered_deg is not None
        assert check.covered_deg >= COVERED_DEG
    assert result.verdict == ("keep" if line.rim == "within" else "measure-again")
    for gauge in line.away:
        assert any(gauge in warning and "away" in warning for warning in check_of(result, "rim").warnings)
