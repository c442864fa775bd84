"""One open port on which several gauges are heard: a box sends them all on one line.

                          ┌─▶ instrument of channel A: its frames, its numbers, its state
    port ─▶ reader ─▶ line┤
                          └─▶ instrument of channel B

Each instrument opens, closes and asks as if the port were its own. It is opened by the first and closed by
the last; what comes goes to all; one asks at a time.
"""

from __future__ import annotations

import asyncio
import threading
from collections import defaultdict
from collections.abc import Callable

from config.profile import PortSettings
from config.sharing import place
from drivers.reader import Attachment, Reader, ReaderStatistics, Sink
from drivers.transports import OpenPort, close_port

# Who opens a port that has just gone waits so long for the others to let go of it.
LETTING_GO_S = 2.0


class _Line:
    """An open port: a sink to the reader, which hands on to all that listen."""

    def __init__(self, port: OpenPort) -> None:
        self.port = port
        self.holders = 0
        self.is_over = False
        self.closed = threading.Event()
        self.asking = asyncio.Lock()
        self.listening: list[_Listening] = []
        self.attachment: Attachment | None = None

    def take(self, data: bytes, time_ns: int, since_ns: int, lost: int) -> None:
        """For the reader: bytes of the port."""
        for one in tuple(self.listening):
            one.sink.take(data, time_ns, since_ns, lost)

    def ended(self, reason: str) -> None:
        """For the reader: the port failed or its far side went away."""
        self.is_over = True
        for one in tuple(self.listening):
            one.sink.ended(reason)


class _Listening(Attachment):
    """One gauge's part in it."""

    def __init__(self, line: _Line, read: Attachment, sink: Sink) -> None:
        super().__init__(line.port, sink, 0)
        self.line = line
        self._read = read

    def statistics(self) -> ReaderStatistics:
        """Those of the port."""
        return self._read.statistics()


class SharedPort:
    """One gauge's hold of an open port. asking: whose turn it is to ask."""

    def __init__(self, line: _Line, let_go: Callable[[_Line], None]) -> None:
        self.line = line
        self.asking = line.asking
        self._let_go: Callable[[_Line], None] | None = let_go

    def fileno(self) -> int:
        """The port's descriptor; raises OSError where it has none."""
        return self.line.port.fileno()

    @property
    def in_waiting(self) -> int:
        """As the port has it."""
        return self.line.port.in_waiting

    def read(self, size: int = 1, /) -> bytes:
        """From the port itself."""
        return self.line.port.read(size)

    def write(self, data: bytes, /) -> int | None:
        """To the port. Where it takes nothing it is over for all: else the last would never let go."""
        try:
            return self.line.port.write(data)
        except OSError:
            self.line.is_over = True
            raise

    def close(self) -> None:
        """Once; again is nothing. The last one closes the port."""
        let_go, self._let_go = self._let_go, None
        if let_go is not None:
            let_go(self.line)


class SharedPorts:
    """The ports of one bay that several gauges may be on: opens them (in any thread) and reads them (in the
    loop's)."""

    def __init__(self, opener: Callable[[str, PortSettings], OpenPort], reader: Reader) -> None:
        self._opener = opener
        self._reader = reader
        self._lines: dict[tuple[str, ...], _Line] = {}
        self._guard = threading.Lock()
        # One for each port: another that hangs in opening must not keep this one.
        self._opening: defaultdict[tuple[str, ...], threading.Lock] = defaultdict(threading.Lock)

    def open(self, name: str, settings: PortSettings) -> OpenPort:
        """The port, opened where nobody has it. Blocks. Raises PortError."""
        at = place(name)
        with self._guard:
            opening, before = self._opening[at], self._lines.get(at)
        if before is not None and before.is_over:
            before.closed.wait(LETTING_GO_S)
        with opening:
            line = self._held(at) or self._hold(at, _Line(self._opener(name, settings)))
        return SharedPort(line, self._let_go)

    def _held(self, at: tuple[str, ...]) -> _Line | None:
        """The line that others have, held by one more; None where nobody has it."""
        with self._guard:
            line = self._lines.get(at)
            if line is None or line.is_over:
                return None
            line.holders += 1
            return line

    def _hold(self, at: tuple[str, ...], line: _Line) -> _Line:
        with self._guard:
            line.holders, self._lines[at] = 1, line
            return line

    def attach(self, port: OpenPort, sink: Sink) -> Attachment:
        """What comes on it goes to `sink` as well, in the loop's thread."""
        assert isinstance(port, SharedPort)
        line = port.line
        if line.attachment is None:
            line.attachment = self._reader.attach(line.port, line)
        line.listening.append(_Listening(line, line.attachment, sink))
        return line.listening[-1]

    async def detach(self, attachment: Attachment) -> None:
        """Its sink is not called again; who is the last ends the reading."""
        assert isinstance(attachment, _Listening)
        line = attachment.line
        line.listening.remove(attachment)
        if not line.listening and line.attachment is not None:
            read, line.attachment = line.attachment, None
            await self._reader.detach(read)

    def _let_go(self, line: _Line) -> None:
        with self._guard:
            line.holders -= 1
            if line.holders:
                return
            line.is_over = True
        try:
            close_port(line.port)
        finally:
            line.closed.set()
