"""Gauges on pseudo-terminals, in a process of their own: lines of 13 bytes, at a pace or as fast as taken."""

from __future__ import annotations

import math
import os
import random
import time
import tty
from collections.abc import Iterator, Sequence
from multiprocessing.connection import Connection

from tests.benchmarks.board import Board, prefer

# Stages of a feeder: now and then a line, so that gauges count as live; none, all said; the counted
# lines; all of those written.
WARM, HUSH, HUSHED, GO, DONE = range(5)
WARM_PERIOD_S = 0.1
# Lines written and not yet heard of at the far end: far from filling any queue on the way, and always
# some for the reader to read.
WINDOW = 1000
LINE_BYTES = 13
# Before everything: no gauge waits for what this machine computes.
NICE = -20
TERMINATOR = b"\r\n"
# Degrees by which the crank is barred between two lines: slow enough that no sweep is ever complete.
STEP_DEG = 0.01


def indicator_lines(number: int, seed: int) -> list[bytes]:
    """The line to warm up with, then `number` more; so for all gauges.

    A rim with 0.1 mm of eccentricity under the slowly turning crank, and noise of 1 µm.
    """
    rng = random.Random(f"indicator {seed}")
    values = (0.1 * math.cos(math.radians(i * STEP_DEG)) + rng.gauss(0, 0.001) for i in range(number + 1))
    return [f"{value:+011.4f}".encode() + TERMINATOR for value in values]


def counting_lines(number: int) -> list[bytes]:
    """Values that tell each line from every other: its number, in µm."""
    return [f"{i / 1000:+011.4f}".encode() + TERMINATOR for i in range(number + 1)]


def encoder_lines(number: int) -> list[bytes]:
    """The crank, barred steadily from 0 on."""
    return [f"{i * STEP_DEG:011.4f}".encode() + TERMINATOR for i in range(number + 1)]


def feed_fast(board: Board, paths: Connection, lines: Sequence[Sequence[bytes]]) -> None:
    """Write all lines, the ports by turns, never more than `WINDOW` ahead of what has been heard."""
    ports = _open(paths, len(lines))
    _warm_up(board, ports, lines)
    in_turn = [pair for own in list(zip(*lines, strict=True))[1:] for pair in zip(ports, own, strict=True)]
    board.first_ns = time.monotonic_ns()
    allowed = WINDOW
    for sent, (port, line) in enumerate(in_turn):
        while sent >= allowed:
            allowed = board.heard - board.base + WINDOW
            if sent >= allowed:
                time.sleep(0.0005)
        os.write(port, line)
    board.stage = DONE
    _stay()


def feed_paced(
    board: Board, paths: Connection, lines: Sequence[Sequence[bytes]], period_s: float, seed: int
) -> None:
    """Write a line on each port every `period_s`, each port at a moment of its own; then hand over when
    each was written (monotonic ns), by port."""
    prefer(NICE)
    ports = _open(paths, len(lines))
    _warm_up(board, ports, lines)
    written: list[list[int]] = [[] for _ in ports]
    for number, port in paced(len(lines), len(lines[0]) - 1, period_s, seed):
        line = lines[port][number + 1]
        written[port].append(time.monotonic_ns())
        os.write(ports[port], line)
    paths.send(written)
    board.stage = DONE
    _stay()


def paced(ports: int, number: int, period_s: float, seed: int) -> Iterator[tuple[int, int]]:
    """Line number and port, each yielded when it is due."""
    rng = random.Random(f"pace {seed}")
    offsets = sorted((rng.uniform(0, period_s), port) for port in range(ports))
    start_s = time.monotonic() + 0.01
    for line in range(number):
        for offset_s, port in offsets:
            left_s = start_s + line * period_s + offset_s - time.monotonic()
            if left_s > 0:
                time.sleep(left_s)
            yield line, port


def _open(paths: Connection, number: int) -> list[int]:
    ports, names = [], []
    for _ in range(number):
        near, far = os.openpty()
        tty.setraw(far)  # kept open, so that lines wait while nobody has the far end
        ports.append(near)
        names.append(os.ttyname(far))
    paths.send(names)
    return ports


def _warm_up(board: Board, ports: Sequence[int], lines: Sequence[Sequence[bytes]]) -> None:
    while board.stage == WARM:
        for port, own in zip(ports, lines, strict=True):
            os.write(port, own[0])
        time.sleep(WARM_PERIOD_S)
    board.stage = HUSHED
    while board.stage != GO:
        time.sleep(0.0005)


def _stay() -> None:
    """The ports must not vanish before their reader has done with them."""
    while True:
        time.sleep(60)
