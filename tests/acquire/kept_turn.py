"""A turn as it came over two lines, and the angle of each reading: captures with golden tags.

    .venv-test/bin/python -m tests.acquire.kept_turn         # writes them anew

Made by simulators: an encoder of 0.1 degrees each 50 ms with a count that wraps at 4096 and an index, and
an indicator of 0.001 mm each 100 ms, the crank barred in strokes with the ratchet giving back. One of the
encoder's frames is damaged on its way; counts are lost once, and its index tells. `turn.tags` has, of each
reading that has an angle, its time since the first (ms), the angle (degrees) and its uncertainty, and the
truth, known before any of it was framed. Whoever makes them anew explains each difference.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from acquire.angle.tagger import tag_sweep
from acquire.journal.events import AngleStated, Event, IndexPassed, Sample, SweepBegun
from config.profile import GaugeProfile
from contract.gauge import GaugeFacts
from contract.units import Unit
from drivers.assembly import Assembler
from drivers.capture import Capture, Piece, read_capture, written
from drivers.encoding import encode
from grading.evidence import F64, Sweep
from tests.acquire.encoder_turns import Strokes, surface
from tests.drivers.support import profile

FOLDER = Path(__file__).parent / "captures"
PER_TURN, MODULUS, INDEX_DEG = 3_600, 4_096, 12.0
LOST_FROM_DEG, LOST = 500.0, 40
"""Counts that are lost once the crank has come so far."""
DAMAGED = 57
ENCODER_S, GAUGE_S = 0.05, 0.1


def encoder() -> GaugeProfile:
    """The profile that ships, with a counter of 12 bits, so that it begins anew within a turn."""
    kind = profile("encoder-index")
    return kind.model_copy(update={"value": kind.value.model_copy(update={"modulus": MODULUS})})


def made() -> tuple[dict[str, Capture], F64]:
    """Both captures, and where the crank was at each of the indicator's frames; the same every time."""
    rng = np.random.default_rng(36)
    crank = Strokes(rng, turn_deg=740.0)
    framed, read = crank.beats(rng, ENCODER_S), crank.beats(rng, GAUGE_S)
    deg = crank.deg(framed)
    counts = np.round(deg * PER_TURN / 360.0).astype(int) - LOST * (
        np.maximum.accumulate(deg) > LOST_FROM_DEG
    )
    came = np.diff(np.floor((deg - INDEX_DEG) / 360.0), prepend=0.0) != 0
    came[0] = False
    kind, frames = encoder(), []
    for n, (count, index) in enumerate(zip(counts.tolist(), came.tolist(), strict=True)):
        frame = encode(count % MODULUS, kind)
        frame = frame.replace(b" ", b"*") if index else frame
        frames.append(frame[:3] + b"x" + frame[4:] if n == DAMAGED else frame)
    felt = surface(rng, 0.2, crank.deg(read)) + rng.normal(0.0, 0.0004, read.size)
    values = [encode(nm, profile("line-mm")) for nm in (np.round(felt * 1e3).astype(int) * 1000).tolist()]
    return {"encoder": _captured(framed, frames), "indicator": _captured(read, values)}, crank.deg(read)


def _captured(times: F64, frames: list[bytes]) -> Capture:
    """Each frame as it had come whole; before them the end of one."""
    pieces = [Piece(1_000_000, b"0\r\n")]
    whole = np.round(times * 1e9 + 1e9).astype(int).tolist()
    pieces += [Piece(time, frame) for time, frame in zip(whole, frames, strict=True)]
    return Capture(pieces, pieces[-1].time_ns, "it was whole", {"note": "made by simulators"})


def tagged(folder: Path = FOLDER) -> Sweep:
    """The kept captures, through the drivers and the tagger."""
    gauge = GaugeFacts("indicator", 0.001, 0.004, latency_u_ns=1_000_000)
    angle = AngleStated(
        source="encoder", gauge="encoder", unit=Unit.COUNT, per_turn=PER_TURN, modulus=MODULUS,
        latency_u_ns=1_000_000,
    )  # fmt: skip
    events: list[Event] = [SweepBegun(inspection="i", time_ns=0, check="rim", gauge=gauge, angle=angle)]
    for name, kind in (("encoder", encoder()), ("indicator", profile("line-mm"))):
        assembler = Assembler(name, kind)
        for piece in read_capture(folder / f"{name}.cap").pieces:
            for r in assembler.feed(piece.data, piece.time_ns):
                common = {"inspection": "i", "time_ns": r.time_ns, "gauge": name}
                # Keywords of several types.
                events.append(Sample(**common, reading=r.seq, value=r.value, unit=r.unit))  # type: ignore[arg-type]
                if r.index:
                    # Likewise.
                    events.append(IndexPassed(**common))  # type: ignore[arg-type]
    return tag_sweep(events)


def text_of(sweep: Sweep, true_deg: F64) -> str:
    """Of each reading that has an angle: ms, degrees, their uncertainty, and the truth, whole turns aside."""
    true = true_deg[-sweep.angle_deg.size :] if sweep.angle_deg.size < true_deg.size else true_deg
    true = true + 360.0 * np.round((sweep.angle_deg[0] - true[0]) / 360.0)
    rows = zip(
        sweep.time_s.tolist(),
        sweep.angle_deg.tolist(),
        sweep.angle_u_deg.tolist(),
        true.tolist(),
        strict=True,
    )
    return "".join(f"{1e3 * t:.0f} {a:.3f} {u:.3f} {d:.3f}\n" for t, a, u, d in rows)


def main() -> None:
    """Write them."""
    FOLDER.mkdir(exist_ok=True)
    captures, true_deg = made()
    for name, capture in captures.items():
        (FOLDER / f"{name}.cap").write_text(written(capture))
    (FOLDER / "turn.tags").write_text(text_of(tagged(), true_deg))


if __name__ == "__main__":
    main()
