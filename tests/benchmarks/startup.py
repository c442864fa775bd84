"""The daemon's second start, with a broker of its own, until a subscriber has its first reading.

Against the start of an interpreter that does nothing, the floor of any program of ours.
"""

from __future__ import annotations

import subprocess
import sys
import time

from tests.benchmarks import stage
from tests.benchmarks.board import CONTEXT, new_board, process, until
from tests.benchmarks.feeder import encoder_lines, feed_fast, indicator_lines
from tests.benchmarks.listener import count
from tests.benchmarks.table import Figure, Row
from tests.link.outside import free_port

REPEATS = 5
S = "{:.2f} s"
MOST_S = 0.6


def measure() -> list[Row]:
    """Both by turns, on one bay: the first start, which makes its files, is not counted."""
    ours, floor = [], []
    board = new_board()
    near, far = CONTEXT.Pipe()
    lines = [indicator_lines(1, 0), encoder_lines(1)]
    with stage.folder() as place, process(feed_fast, board, far, lines):
        port = free_port()
        config = stage.write_bay(place, f'url = "built-in"\nport = {port}', near.recv())
        for _ in range(REPEATS + 1):
            board.heard = board.listening = 0
            with process(count, board, port, stage.READINGS):
                stage.settle()  # until it tries to connect
                began_ns = time.monotonic_ns()
                with stage.daemon(config):
                    until(lambda: board.heard, "a reading")
                    ours.append((board.heard_ns - began_ns) / 1e9)
            began_ns = time.monotonic_ns()
            subprocess.run([sys.executable, "-c", "pass"], check=True)
            floor.append((time.monotonic_ns() - began_ns) / 1e9)
    own, theirs = Figure(tuple(ours[1:]), S), Figure(tuple(floor[1:]), S)
    is_met = own.median < MOST_S
    ratio = own.median / theirs.median
    what, aim = "second start to first reading", f"< {MOST_S:g} s"
    return [Row(what, "starting Python", theirs, own, ratio, aim, is_met)]
