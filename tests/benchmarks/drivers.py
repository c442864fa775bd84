"""Frames a second of each framing, bytes in to readings out, and a bay of 32 gauges at 100 readings a second.

Ours: what the daemon does with the bytes of a port: framing, decoding to an exact whole number, numbering,
stamping. Against `bytes.split` and `float` over lines of thirteen bytes, in the same run. A frame of each
kind is of a gauge that ships. The bay of 32: as `latency`, an encoder among them and a sweep running.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from config.files import shipped
from config.profile import GaugeProfile, WireUnit
from config.toml import read_toml
from drivers.assembly import Assembler
from drivers.encoding import Encoder
from tests.benchmarks.feeder import TERMINATOR, indicator_lines
from tests.benchmarks.latency import bare_run, below, daemon_run, loop_run
from tests.benchmarks.table import Figure, Row

FRAMES, REPEATS, REPEATS_SHORT = 20_000, 7, 3
# Bytes that a reader finds at once.
PIECE_BYTES = 4_000
# Kind of framing and of value, and a profile that ships; the least that its ratio may be in CI, where a loss
# of speed shows: about half of what was measured; a machine shared with others takes a third by itself.
KINDS = {
    "line, text": ("line-mm", 0.036),
    "line, unit and status": ("line-unit", 0.036),
    "line, power of ten": ("line-exponent-mm", 0.026),
    "fixed, digits": ("digits-mm", 0.012),
    "fixed by pauses, digits": ("burst-mm", 0.012),
    "checked, CRC": ("binary-mm", 0.016),
    "checked, sum": ("sum-mm", 0.015),
    "checked, exclusive or": ("xor-requested-mm", 0.01),
    "packet, report": ("hid-reports", 0.017),
    "packet, checked": ("hid-checked-mm", 0.015),
}
GAUGES, PERIOD_S, LINES = 32, 0.01, 300
RATE, MS, CORE = "{:,.0f}/s", "{:.2f} ms", "{:.1%} of a core"


def measure(*, short: bool = False) -> list[Row]:
    """All kinds by turns, so that a busy spell falls on all of them. short: no bay of 32."""
    wires = {kind: wire(name) for kind, (name, _) in KINDS.items()}
    rates: dict[str, list[float]] = {kind: [] for kind in KINDS}
    bare: list[float] = []
    for seed in range(REPEATS_SHORT if short else REPEATS):
        bare.append(rate(split_and_float(seed)))
        for kind, (name, _) in KINDS.items():
            rates[kind].append(rate(assembled(name, wires[kind])))
    floor = Figure(tuple(bare), RATE)
    rows = []
    for kind, (_, least) in KINDS.items():
        ours = Figure(tuple(rates[kind]), RATE)
        ratio = ours.median / floor.median
        rows.append(Row(f"frames a second: {kind}", "split, float", floor, ours, ratio, holds=ratio >= least))
    return rows if short else rows + crowd()


def wire(name: str) -> bytes:
    """So many frames of a gauge that ships, of values that differ."""
    kind = read_toml(shipped("gauges", name), GaugeProfile)
    encoder = Encoder(kind)
    step = 254 if kind.value.unit is WireUnit.INCH else 1_000
    return b"".join(encoder.frame((n % 5_000) * step) for n in range(FRAMES))


def assembled(name: str, stream: bytes) -> Callable[[], int]:
    """What makes readings of all of it."""
    kind = read_toml(shipped("gauges", name), GaugeProfile)
    pieces = [stream[at : at + PIECE_BYTES] for at in range(0, len(stream), PIECE_BYTES)]

    def work() -> int:
        # One that is quiet before it sends, as one that sends of itself may be heard from amid a frame on.
        assembler = Assembler(name, kind)
        assembler.feed(b"", 0)
        return sum(len(assembler.feed(piece, 10**10 + n)) for n, piece in enumerate(pieces))

    return work


def split_and_float(seed: int) -> Callable[[], int]:
    """The bare minimum."""
    stream = b"".join(indicator_lines(FRAMES, seed))
    pieces = [stream[at : at + PIECE_BYTES] for at in range(0, len(stream), PIECE_BYTES)]

    def work() -> int:
        rest, number = b"", 0
        for piece in pieces:
            *lines, rest = (rest + piece).split(TERMINATOR)
            number += len([float(line) for line in lines])
        return number

    return work


def rate(work: Callable[[], int]) -> float:
    """Frames for a second of processor time."""
    began_s = time.process_time()
    number = work()
    spent_s = time.process_time() - began_s
    if number < FRAMES - 2:
        raise AssertionError(f"{number} readings of {FRAMES} frames")
    return number / spent_s


def crowd() -> list[Row]:
    """32 gauges on pseudo-terminals, as many by a bare loop, and as many messages from a bare publisher."""
    ours, loops, floors = [], [], []
    for seed in range(REPEATS_SHORT):
        floors.append(bare_run(seed, LINES, GAUGES, PERIOD_S))
        loops.append(loop_run(seed, LINES, GAUGES, PERIOD_S))
        ours.append(daemon_run(seed, LINES, GAUGES, PERIOD_S))
    rows = []
    for name, share in (("median", 0.5), ("p99", 0.99)):
        own = Figure(tuple(below(run.delays_ms, share) for run in ours), MS)
        what = f"latency at {GAUGES} × 100/s, {name}"
        for against, runs in (("bare loop, same ports", loops), ("publish to receive, same rate", floors)):
            theirs = Figure(tuple(below(run.delays_ms or run.stamped_ms, share) for run in runs), MS)
            rows.append(Row(what, against, theirs, own, own.median / theirs.median))
    core = Figure(tuple(run.core for run in ours), CORE)
    theirs = Figure(tuple(run.core for run in floors), CORE)
    what = f"daemon at {GAUGES} × 100/s, sweeping"
    rows.append(Row(what, "publishing alone, same rate", theirs, core, core.median / theirs.median))
    return rows
