"""What a service manager is told: that the daemon is ready, that it lives, that it stops.

The sd_notify protocol: `NAME=value` lines in one datagram to the Unix socket that NOTIFY_SOCKET names
(freedesktop.org, sd_notify(3) and sd_watchdog_enabled(3)). Without one, nothing is told to anybody.
"""

from __future__ import annotations

import asyncio
import os
import socket
from collections.abc import MutableMapping

import structlog

# Of the time within which the manager must hear of us, how often it does: half is what the protocol asks for.
PINGS_IN_TIME = 2


class Notifier:
    """The manager that started us, if one did. Takes its variables out of the environment, so that no child
    of ours speaks in our name."""

    def __init__(self, environ: MutableMapping[str, str]) -> None:
        path = environ.pop("NOTIFY_SOCKET", "")
        time_us = environ.pop("WATCHDOG_USEC", "")
        meant = environ.pop("WATCHDOG_PID", str(os.getpid()))
        # One that begins with @ has no file: it is of Linux's abstract namespace.
        self._address = "\0" + path[1:] if path.startswith("@") else path
        is_watched = bool(path) and time_us.isdecimal() and int(time_us) > 0 and meant == str(os.getpid())
        self.watchdog_s = int(time_us) / 1e6 if is_watched else None

    def ready(self) -> None:
        """The daemon takes readings and commands."""
        self._say("READY=1")

    def stopping(self) -> None:
        """The daemon has been told to end."""
        self._say("STOPPING=1")

    async def keep_alive(self) -> None:
        """For ever: that this event loop turns. One that hangs says nothing, and is started anew."""
        while self.watchdog_s is not None:
            self._say("WATCHDOG=1")
            await asyncio.sleep(self.watchdog_s / PINGS_IN_TIME)

    def _say(self, line: str) -> None:
        if not self._address:
            return
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as to:
                to.setblocking(False)
                to.connect(self._address)
                to.send(line.encode())
        except OSError as err:  # its absence must not end an inspection
            structlog.get_logger().warning("the service manager cannot be told", said=line, reason=str(err))
