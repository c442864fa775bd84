"""A program of others that runs as a child: it ends when whoever started it does, whatever happens."""

from __future__ import annotations

import asyncio
import os
import random
import signal
import socket
from pathlib import Path

from link.children import end_child, start_child

# Below those that the system itself gives away to connections (ip(7), ip_local_port_range): a part that is
# killed and started again finds its port free.
_PORTS = range(15_000, 32_000)
_CHANCE = random.SystemRandom()  # none that a test seeds: others would draw the same
_given: set[int] = set()


def quiet_port() -> int:
    """A port of loopback that nobody listens on, and no connection of this machine comes to use."""
    while True:
        port = _CHANCE.choice(_PORTS)
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
        if port not in _given:
            _given.add(port)
            return port


class Part:
    """One program; keeps its ports and its folder over `kill` and `start`."""

    def __init__(self, name: str, log: Path, *command: str) -> None:
        self.name, self.log = name, log
        self._command = command
        self._child: asyncio.subprocess.Process | None = None

    @property
    def pid(self) -> int:
        """While it runs."""
        assert self._child is not None
        return self._child.pid

    async def start(self) -> None:
        """Start it; it need not listen yet."""
        with self.log.open("ab") as log:
            self._child = await start_child(*self._command, dying=signal.SIGKILL, stdout=log, stderr=log)

    def look(self) -> None:
        """Raises where it has ended by itself, with its last words."""
        if self._child is not None and self._child.returncode is not None:
            words = self.log.read_text(errors="replace").splitlines()[-3:]
            raise AssertionError(f"{self.name} ended by itself: {' / '.join(words)}")

    async def kill(self) -> None:
        """As by `kill -9`."""
        if self._child is not None and self._child.returncode is None:
            self._child.kill()
            await self._child.wait()

    async def stop(self) -> None:
        """In order."""
        if self._child is not None:
            await end_child(self._child, 10.0)

    def processor_s(self) -> float:
        """Processor time it has taken so far, user and system."""
        return processor_s(self.pid)


def processor_s(pid: int) -> float:
    """Processor time of a process so far, seconds (proc(5))."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def resident_bytes(pid: int) -> int:
    """Memory of a process now (proc(5))."""
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
