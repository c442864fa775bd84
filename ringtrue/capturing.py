"""Keeping what comes over a line: the pieces as the daemon's own reader hands them over."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass

from acquire.clock import Clock
from config.profile import PortSettings, SerialPort
from drivers.capture import MAX_BYTES, Capture, Piece
from drivers.reader import PortReader
from drivers.transports import OpenPort


@dataclass(frozen=True, slots=True)
class Asking:
    """What is sent again and again, and how often."""

    request: bytes
    period_s: float


class Recorder:
    """A reader's sink that keeps everything, up to MAX_BYTES."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._began_ns = clock.monotonic_ns()
        self._left = MAX_BYTES
        self.pieces: list[Piece] = []
        self.over: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        """Done once nothing more can come: why."""
        self.failed = False

    def take(self, data: bytes, time_ns: int, since_ns: int, lost: int) -> None:
        """For the reader: bytes of the port."""
        if self.over.done():
            return
        if lost:
            self.ended(f"{lost} bytes came too quickly to be kept")
            return
        data = data[: self._left]
        self._left -= len(data)
        self.keep(Piece(max(time_ns - self._began_ns, 0), data, max(time_ns - since_ns, 0)))
        if not self._left:
            self.finish(f"it is full, at {MAX_BYTES} bytes")

    def ended(self, reason: str) -> None:
        """For the reader: the port failed, or its far side went away."""
        self.failed = self.failed or not self.over.done()
        self.finish(reason)

    def keep(self, piece: Piece) -> None:
        """One more piece, which never goes behind those before it."""
        if self.pieces and piece.time_ns < self.pieces[-1].time_ns:
            piece = Piece(self.pieces[-1].time_ns, piece.data, piece.early_ns, piece.sent)
        self.pieces.append(piece)

    def finish(self, reason: str) -> None:
        """The first reason stands."""
        if not self.over.done():
            self.over.set_result(reason)

    def now_ns(self) -> int:
        """Since it began."""
        return self._clock.monotonic_ns() - self._began_ns

    def capture(self, head: Mapping[str, str]) -> Capture:
        """All that was kept, once it is over."""
        last_ns = self.pieces[-1].time_ns if self.pieces else 0
        return Capture(self.pieces, max(self.now_ns(), last_ns), self.over.result(), head)


async def record(
    port: OpenPort, reader: PortReader, recorder: Recorder, seconds: float | None, asking: Asking | None
) -> None:
    """Until the recorder is over, or for so many seconds. Asks, where it is to."""
    attachment = reader.attach(port, recorder)
    asks = asyncio.ensure_future(_ask(port, recorder, asking)) if asking is not None else None
    try:
        await asyncio.wait({recorder.over}, timeout=seconds)
        if seconds is not None:
            recorder.finish(f"{seconds:g} s are over")
    finally:
        if asks is not None:
            asks.cancel()
            await asyncio.gather(asks, return_exceptions=True)
        await reader.detach(attachment)


async def _ask(port: OpenPort, recorder: Recorder, asking: Asking) -> None:
    while not recorder.over.done():
        recorder.keep(Piece(recorder.now_ns(), asking.request, sent=True))
        try:
            await asyncio.to_thread(port.write, asking.request)
        except OSError as error:
            recorder.ended(f"it cannot be written to ({error})")
        await asyncio.sleep(asking.period_s)


def spelled(port: PortSettings) -> str:
    """Speed and frame, such as `9600 8N1`; of a port that has none its kind."""
    if not isinstance(port, SerialPort):
        return port.kind
    return f"{port.baud} {port.bytesize}{port.parity[0].upper()}{port.stopbits}"
