"""The server of the pages on its address, until it is told to stop."""

from __future__ import annotations

import asyncio
import logging
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp

from config.errors import RingtrueError

# Seconds for pages to hear that it ends: their streams would go on for ever.
STOP_MAX_S = 1
# Connections held at once; a page has one stream, and few requests beside.
CONNECTIONS_MAX = 500


class ServerError(RingtrueError):
    """The pages cannot be served there; says what to do."""


@dataclass(frozen=True, slots=True)
class Tls:
    """Files in PEM."""

    certificate: Path
    key: Path


def bound(host: str, port: int) -> socket.socket:
    """A socket that listens there. Raises ServerError."""
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        made = socket.socket(family, socket.SOCK_STREAM)
    except OSError as error:
        raise ServerError(
            f"[display] listen: {host} is no address of this machine ({error.strerror})"
        ) from None
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


async def serve(app: ASGIApp, listening: socket.socket, tls: Tls | None, stop: asyncio.Event) -> None:
    """Until `stop` is set. Raises ServerError where the certificate cannot be used."""
    logging.getLogger("uvicorn").setLevel(logging.WARNING)
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=STOP_MAX_S,
        limit_concurrency=CONNECTIONS_MAX,
        timeout_keep_alive=30,
        h11_max_incomplete_event_size=16_384,
        http="h11",
        ws="none",
        loop="asyncio",
        ssl_certfile=None if tls is None else tls.certificate,
        ssl_keyfile=None if tls is None else tls.key,
    )
    try:
        config.load()
    except OSError as error:  # ssl.SSLError is one
        raise ServerError(f"[display] certificate or key cannot be used: {error.strerror or error}") from None
    server = _Quiet(config)
    serving = asyncio.ensure_future(server.serve(sockets=[listening]))
    stopping = asyncio.ensure_future(stop.wait())
    await asyncio.wait((serving, stopping), return_when=asyncio.FIRST_COMPLETED)
    stopping.cancel()
    server.should_exit = True
    await serving


class _Quiet(uvicorn.Server):
    """Leaves signals to whoever runs it."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """None of its own."""
        yield
