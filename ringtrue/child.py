"""A command of ours as a child process that never outlives the one that started it."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from contextlib import nullcontext, suppress
from pathlib import Path

from link.children import end_child, start_child

# Seconds between SIGTERM and SIGKILL: a daemon says goodbye to broker, gauges and journal in between.
STOP_MAX_S = 10.0
# How much of the log's end is looked at for the daemon's last words, bytes.
TAIL_BYTES = 4096


class Child:
    """`ringtrue …`. log: a file that what it says is appended to; None: it says it where we do. nice: by how
    much it yields to us."""

    def __init__(self, *command: str, log: Path | None, nice: int = 0) -> None:
        self._command, self._nice = command, nice
        self.log = log
        self._child: asyncio.subprocess.Process | None = None

    @property
    def pid(self) -> int | None:
        """Its process id while there is one."""
        return self._child.pid if self._child is not None else None

    async def start(self) -> None:
        """Start it. Raises OSError where the log cannot be written."""
        # -P: a folder named like one of our packages in the current folder must not stand in for it.
        command = [sys.executable, "-P", "-m", "ringtrue", *self._command]
        with nullcontext() if self.log is None else self.log.open("ab") as log:
            environment = {**os.environ, "PYTHONPATH": _search_path()}
            self._child = await start_child(
                *command, dying=signal.SIGTERM, stdout=log, stderr=log, env=environment, nice=self._nice
            )

    async def wait_ended(self) -> str:
        """Wait until it ends; return the last line of its log."""
        assert self._child is not None
        await self._child.wait()
        return self.last_words()

    async def stop(self) -> None:
        """End it. Safe to call twice."""
        child, self._child = self._child, None
        if child is not None:
            await end_child(child, STOP_MAX_S)

    def last_words(self) -> str:
        """The last line of the log that says anything."""
        if self.log is None:
            return "nothing"
        with suppress(OSError), self.log.open("rb") as log:
            log.seek(max(log.seek(0, os.SEEK_END) - TAIL_BYTES, 0))
            lines = [line.strip() for line in log.read().decode(errors="replace").splitlines()]
            return next((line for line in reversed(lines) if line), "nothing")
        return "nothing"


def daemon_child(config: Path, log: Path) -> Child:
    """`ringtrue run` of a bay."""
    return Child("run", "--config", str(config), log=log)


def _search_path() -> str:
    """Where this very package lies, before whatever was to be searched anyway."""
    own = str(Path(__file__).resolve().parent.parent)
    return os.pathsep.join(filter(None, (own, os.environ.get("PYTHONPATH"))))
