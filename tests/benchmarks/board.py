"""What the processes of one measurement tell each other, in shared memory: next to no cost."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from ctypes import Structure, c_int64
from multiprocessing import get_context
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

# Started afresh: a copy of a process would hold its threads and locks half-way.
CONTEXT = get_context("spawn")
# Longest wait for anything; what does not come by then was lost.
WAIT_S = 60.0


class Board(Structure):
    """listening, ready: a process is. heard, heard_ns: messages at the subscriber, and when the last came.
    wanted: how many it is to hear in all, 0 while that is not known.

    stage: what the feeder does (`feeder.WARM` and on). base: `heard` when the counted lines began.
    first_ns: when the first of them was written. cpu_ns: what a bare loop has used.
    """

    _fields_ = (
        ("listening", c_int64), ("ready", c_int64), ("heard", c_int64), ("heard_ns", c_int64),
        ("wanted", c_int64), ("stage", c_int64), ("base", c_int64), ("first_ns", c_int64),
        ("cpu_ns", c_int64),
    )  # fmt: skip


def new_board() -> Board:
    """One that processes of `CONTEXT` may be handed."""
    board: Board = CONTEXT.RawValue(Board)
    return board


@contextmanager
def process(target: Callable[..., None], *arguments: Any) -> Iterator[BaseProcess]:
    """A process while the block runs; ended, if need be, after it."""
    started = CONTEXT.Process(target=target, args=arguments, daemon=True)
    started.start()
    try:
        yield started
    finally:
        started.terminate()
        started.join()


def prefer(nice: int) -> None:
    """Put this process before others by so much, as far as this user may: as one, and in a group of its own
    among groups of processes, where the kernel makes groups (sched(7))."""
    with suppress(PermissionError):
        os.nice(nice)
        os.setsid()
        Path("/proc/self/autogroup").write_text(str(nice))


def until(is_so: Callable[[], object], what: str) -> None:
    """Wait; TimeoutError names what did not come."""
    end = time.monotonic() + WAIT_S
    while not is_so():
        if time.monotonic() > end:
            raise TimeoutError(f"{what} did not come in {WAIT_S:g} s")
        time.sleep(0.002)
