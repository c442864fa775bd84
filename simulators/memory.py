"""Ports in memory: no descriptor, no thread, and nobody waits."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from types import TracebackType
from typing import Any, Self

from drivers.reader import Attachment, PortReader, Sink
from drivers.transports import OpenPort


class AtOnce(Executor):
    """Does everything where it is asked, so that opening a port takes no time."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        done: Future[Any] = Future()
        try:
            done.set_result(fn(*args, **kwargs))
        except Exception as error:
            done.set_exception(error)
        return done


class MemoryPort:
    """A port that nobody waits on: the far side hands its bytes over."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.in_waiting = 0

    def fileno(self) -> int:
        raise OSError("no descriptor")

    def read(self, size: int = 1, /) -> bytes:  # noqa: ARG002 as of a raw stream
        return b""

    def write(self, data: bytes, /) -> int:
        return len(data)

    def close(self) -> None:
        pass


class MemoryReader(PortReader):
    """Hands bytes over as if the reading threads had stamped and delivered them in that moment."""

    def __init__(self) -> None:
        self._sinks: dict[str, Sink] = {}

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._sinks.clear()

    def attach(self, port: OpenPort, sink: Sink) -> Attachment:
        assert isinstance(port, MemoryPort)
        self._sinks[port.name] = sink
        return Attachment(port, sink, 1 << 20)

    async def detach(self, attachment: Attachment) -> None:
        assert isinstance(attachment.port, MemoryPort)
        self._sinks.pop(attachment.port.name, None)

    def is_heard(self, name: str) -> bool:
        """Whether somebody has the port open."""
        return name in self._sinks

    def send(
        self, name: str, data: bytes, time_ns: int, since_ns: int | None = None, *, lost: int = 0
    ) -> None:
        """Bytes come on a port by `time_ns`, after `since_ns` where they were read late; nobody hears them
        while it is not open. lost: bytes that came before and found no room."""
        sink = self._sinks.get(name)
        if sink is not None:
            sink.take(data, time_ns, time_ns if since_ns is None else since_ns, lost)
            self.handed_over()

    def cut(self, name: str) -> None:
        """The far side of a port goes away."""
        sink = self._sinks.get(name)
        if sink is not None:
            sink.ended("its far side is gone")
