"""Captures of every profile that ships, and what a gauge showed in them.

    .venv-test/bin/python -m tests.drivers.kept_captures         # writes them anew

Made by simulators: the values are what the simulated display showed, known before any of it was framed or
decoded. A frame is damaged on its way, one is cut, and what sends by itself is heard from the middle of a
frame on. The golden tests read them by the drivers: whoever makes them anew explains each difference.
"""

from __future__ import annotations

import random
import zlib
from dataclasses import dataclass
from pathlib import Path

from config.files import shipped_names
from config.profile import FreeRunning, GaugeProfile, LineFraming, WireUnit
from drivers.capture import Capture, Piece, written
from drivers.encoding import encode
from drivers.packets import set_apart
from ringtrue.capturing import spelled
from tests.drivers.support import profile

FOLDER = Path(__file__).parent / "captures"
FRAMES = 30
# Which frames are damaged, and which are cut; the reader looks up every 5 ms.
DAMAGED, CUT, EARLY_NS = 11, 21, 5_000_000
# One step of the display in the whole unit of readings; inches show 0.00001 in.
STEP = {WireUnit.MM: 1_000, WireUnit.INCH: 254, WireUnit.DEG: 1_000, WireUnit.COUNT: 1}
HEAD = "made by simulators; standing, then moving; one frame damaged, one cut"


@dataclass(frozen=True, slots=True)
class Kept:
    capture: Capture
    shown: list[tuple[int, int]]
    """When a whole frame had come, ns, and the value in it."""

    @property
    def text(self) -> str:
        return "".join(f"{time_ns} {value}\n" for time_ns, value in self.shown)


def made(name: str) -> Kept:
    """One profile's capture and its truth; the same every time."""
    kind, rng = profile(name), random.Random(zlib.crc32(name.encode()))
    pieces: list[Piece] = []
    shown: list[tuple[int, int]] = []
    now_ns = 40_000_000
    # Two lines of which the first lost its end are one wrong line, unless something else tells them apart.
    glued = isinstance(kind.framing, LineFraming) and isinstance(kind.manner, FreeRunning)
    for number, value in enumerate(_values(kind, rng)):
        frame = encode(value, kind)
        if kind.port.apart:  # a packet is damaged or cut by nothing; a short one may come
            if number in (DAMAGED, CUT):
                frame = set_apart(frame[1 : number // 5])
            else:
                shown.append((now_ns, value))
        elif number == 0 and isinstance(kind.manner, FreeRunning):
            frame = frame[len(frame) // 2 :]
        elif number == DAMAGED:
            frame = frame[:3] + bytes([frame[3] ^ 0xB0]) + frame[4:]
        elif number == CUT:
            frame = frame[: len(frame) // 2]
        elif number != CUT + 1 or not glued:
            shown.append((now_ns, value))
        if kind.manner.request_bytes is not None:
            pieces.append(Piece(now_ns - 15_000_000, kind.manner.request_bytes, sent=True))
        at = 0 if kind.port.apart else rng.randint(1, len(frame) - 1)
        if at:
            pieces.append(Piece(now_ns - 1_000_000, frame[:at], EARLY_NS))
        pieces.append(Piece(now_ns, frame[at:], EARLY_NS))
        spread = rng.randint(900_000_000, 1_600_000_000) if kind.manner.by_hand else 0
        now_ns += spread + rng.randint(96_000_000, 104_000_000)
    head = {"port": spelled(kind.port), "profile": name, "note": HEAD}
    return Kept(Capture(pieces, now_ns, "it was whole", head), shown)


def _values(kind: GaugeProfile, rng: random.Random) -> list[int]:
    """Ten at rest, within a step, then moving, to below nought where the gauge can."""
    step = STEP[kind.value.unit]
    speed = rng.randint(20, 200) * step
    low = 0 if kind.id == "encoder-degrees" else -7 * speed
    still = 3 * speed + rng.randint(0, 50) * step
    rest = [still + rng.randint(0, 1) * step for _ in range(10)]
    return rest + [low + speed * n + rng.randint(0, 3) * step for n in range(FRAMES - 10)]


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for name in shipped_names("gauges"):
        kept = made(name)
        (FOLDER / f"{name}.cap").write_text(written(kept.capture))
        (FOLDER / f"{name}.readings").write_text(kept.text)


if __name__ == "__main__":
    main()
