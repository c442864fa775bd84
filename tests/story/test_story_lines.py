"""One inspection of a sound damper over perfect and bad lines.

What is expected follows from the damper's geometry, never from what was computed before.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import pytest

from contract.document import decode, encode
from grading.evidence import Sweep
from simulators import faults
from simulators.barring import NS_PER_S
from simulators.damper import tir_mm
from simulators.faults import Chunk, Stream
from simulators.rig import HAUL_TRUCK_DAMPER
from tests.acquire.workbench import ENCODER, INDICATOR
from tests.story.telling import Fault, Spell, Story, Wire, check_of

# The largest error of a run-out that a good line may leave, mm: the indicator's permissible error is
# not simulated, its step is 1 µm and its noise 0.8 µm.
TIR_WITHIN_MM = 0.003
# The largest error of the first harmonic's crest, degrees: the encoder's step is 0.1, and a line that
# delays by up to 30 ms moves some readings by 0.7.
CREST_WITHIN_DEG = 1.0
# What a sweep that ended by itself covers at least: 365 degrees less the readings after the encoder's
# last, which have no angle (a reading or two at the hand's fastest pace).
COVERED_DEG = 363.0


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


@dataclass(frozen=True)
class Told:
    """The result document; what the live figure last showed and how many readings were lost, by surface."""

    document: bytes
    shown_mm: dict[str, float]
    lost: dict[str, int]


def tell(folder: Path, line: Line) -> Told:
    """The whole inspection."""
    with Story(folder, wire=Wire(line.fault, line.away)) as story:
        story.look()
        shown = {"rim": story.sweep("rim"), "face": story.sweep("face")}
        document = encode(story.finish())
        evidence, _ = story.evidence()
    sweeps = {name: evidence.attempts[name][0] for name in ("rim", "face")}
    lost = {name: sweep.lost for name, sweep in sweeps.items() if isinstance(sweep, Sweep)}
    return Told(document, shown, lost)


def crest_deg(surface: Callable[[float], float]) -> float:
    """Where the first harmonic of a surface is highest (discrete Fourier sum over 720 places)."""
    turn = [2 * math.pi * place / 720 for place in range(720)]
    along = sum(surface(math.degrees(angle)) * math.cos(angle) for angle in turn)
    across = sum(surface(math.degrees(angle)) * math.sin(angle) for angle in turn)
    return math.degrees(math.atan2(across, along)) % 360.0


@pytest.fixture(scope="module")
def perfect(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return tell(tmp_path_factory.mktemp("perfect") / "told", LINES["perfect"]).document


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
