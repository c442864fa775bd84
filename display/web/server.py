"""The server of the pages on its address, until it is told to stop."""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import structlog
import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from config.errors import RingtrueError

# Seconds for requests to come to their end once it stops; streams are ended before.
STOP_MAX_S = 1
CONNECTIONS_MAX = 500
"""Connections held at once; a page has one stream, and few requests beside. Requests beyond are answered 503,
connections far beyond not at all."""
_FAR_BEYOND = CONNECTIONS_MAX + 100
REQUEST_MAX_S = 20.0
"""Seconds for a request to be begun on a connection, and for its head to come."""
# Seconds before the log says the same of the server again.
_QUIET_S = 60.0


class ServerError(RingtrueError):
    """The pages cannot be served there; says what to do."""


@dataclass(frozen=True, slots=True)
class Tls:
    """Files in PEM."""

    certificate: Path
    key: Path

    def context(self) -> ssl.SSLContext:
        """TLS 1.2 or 1.3 (RFC 9325, 3.1.1). Raises ServerError."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2

        def refuse() -> str:
            raise ServerError(f"[display] key: {self.key} has a password: give one without")

        try:
            for file in (self.certificate, self.key):
                file.open("rb").close()
            context.load_cert_chain(self.certificate, self.key, password=refuse)
        except ssl.SSLError as error:
            what = (error.reason or str(error)).replace("_", " ").lower()
            raise ServerError(
                f"[display] certificate, key: {self.certificate} and {self.key} are no certificate with its "
                f"key in PEM ({what}); docs/install.md tells how to make them"
            ) from None
        except OSError as error:
            raise ServerError(
                f"[display] certificate, key: {error.filename} cannot be read ({error.strerror})"
            ) from None
        return context


def bound(host: str, port: int) -> socket.socket:
    """A socket that listens there. Raises ServerError."""
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        made = socket.socket(family, socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        why = getattr(error, "strerror", None) or "not a name"
        raise ServerError(f"[display] listen: {host} is no address of this machine ({why})") from None
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((host, port))
        made.listen(128)
    except OSError as error:
        made.close()
        raise ServerError(
            f"[display] listen: {host}:{port} cannot be had ({error.strerror}): another program may listen "
            "there; choose another port"
        ) from None
    made.setblocking(False)
    return made


async def serve(
    app: ASGIApp,
    listening: socket.socket,
    tls: ssl.SSLContext | None,
    stop: asyncio.Event,
    on_stop: Callable[[], None] = lambda: None,
) -> None:
    """Until `stop` is set. on_stop: ends streams, which would go on for ever."""
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=STOP_MAX_S,
        limit_concurrency=CONNECTIONS_MAX,
        timeout_keep_alive=30,
        h11_max_incomplete_event_size=16_384,
        http=_Patient,
        ws="none",
        loop="asyncio",
        ssl_context_factory=None if tls is None else lambda *_: tls,
    )
    server = _Quiet(config)
    with _one_line_each():
        serving = asyncio.ensure_future(server.serve(sockets=[listening]))
        stopping = asyncio.ensure_future(stop.wait())
        await asyncio.wait((serving, stopping), return_when=asyncio.FIRST_COMPLETED)
        stopping.cancel()
        on_stop()
        server.should_exit = True
        await serving


class _Quiet(uvicorn.Server):
    """Leaves signals to whoever runs it."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """None of its own."""
        yield


class _Patient(H11Protocol):
    """A connection that is held only while it asks for something, or may soon."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as above it
        """Somebody connects."""
        super().connection_made(transport)
        if len(self.connections) > _FAR_BEYOND:
            transport.abort()
        else:
            self._expect()

    def connection_lost(self, exc: Exception | None) -> None:
        """They have gone."""
        self._unexpect()
        super().connection_lost(exc)

    def on_response_complete(self) -> None:
        """They may ask again."""
        super().on_response_complete()
        if not self.transport.is_closing():
            self._expect()

    def _expect(self) -> None:
        self._unexpect()
        self._late = self.loop.call_later(self.timeout_keep_alive + REQUEST_MAX_S, self._give_up)

    def _unexpect(self) -> None:
        if self._late is not None:
            self._late.cancel()

    def _give_up(self) -> None:
        if self.cycle is None or self.cycle.response_complete:
            self.transport.abort()


class _OneLine(logging.Handler):
    """What the server's own libraries say, in one line of our log, and the same not again for a while."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self._said_s: dict[str, float] = {}

    def emit(self, record: logging.LogRecord) -> None:
        """One of their messages."""
        text = record.getMessage().strip().partition("\n")[0]
        now_s = time.monotonic()
        if now_s - self._said_s.get(text, -_QUIET_S) < _QUIET_S:
            return
        if len(self._said_s) > 100:
            self._said_s.clear()
        self._said_s[text] = now_s
        error = None if record.exc_info is None else repr(record.exc_info[1])
        structlog.get_logger().warning(text, of="server", error=error)


@contextmanager
def _one_line_each() -> Iterator[None]:
    handler = _OneLine()
    before = {}
    for name in ("uvicorn.error", "asyncio"):
        logger = logging.getLogger(name)
        before[logger] = logger.level, logger.propagate
        logger.addHandler(handler)
        logger.propagate = False
        logger.setLevel(logging.WARNING)
    try:
        yield
    finally:
        for logger, (level, propagate) in before.items():
            logger.removeHandler(handler)
            logger.level, logger.propagate = level, propagate
