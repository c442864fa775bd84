"""Programs that are started as children: none outlives who started it."""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import Mapping
from contextlib import suppress
from typing import IO

# Runs as the child: asks the kernel for a signal when the parent dies (Linux), makes sure that it has not
# died yet, steps back behind others as far as is asked, and becomes the program. A program of its own because
# code between fork and exec is unsafe where threads run.
_LAUNCHER = """
import ctypes, os, sys
ctypes.CDLL(None).prctl(1, int(sys.argv[2]), 0, 0, 0)
if os.getppid() != int(sys.argv[1]):
    sys.exit(1)
os.nice(int(sys.argv[3]))
os.execv(sys.argv[4], sys.argv[4:])
"""


async def start_child(
    *command: str,
    dying: int,
    stdout: int | IO[bytes] | None = asyncio.subprocess.DEVNULL,
    stderr: int | IO[bytes] | None,
    env: Mapping[str, str] | None = None,
    nice: int = 0,
) -> asyncio.subprocess.Process:
    """Start a program that hears nothing. dying: the signal it gets when this process dies. A terminal's
    Ctrl-C is not for it: who started it ends it. nice: by how much it yields to us. Raises OSError."""
    return await asyncio.create_subprocess_exec(
        sys.executable, "-I", "-S", "-c", _LAUNCHER, str(os.getpid()), str(int(dying)), str(nice), *command,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=stdout,
        stderr=stderr,
        env=env,
        process_group=0,
    )  # fmt: skip


async def end_child(child: asyncio.subprocess.Process, most_s: float) -> None:
    """Ask a child to end, wait so long, then kill it; at once where it has ended by itself."""
    if child.returncode is not None:
        return
    with suppress(ProcessLookupError):
        child.terminate()
    try:
        await asyncio.wait_for(child.wait(), most_s)
    except TimeoutError:
        with suppress(ProcessLookupError):
            child.kill()
        await child.wait()
