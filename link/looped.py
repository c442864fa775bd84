"""The MQTT library's client, driven by the event loop.

The library makes and reads the packets of the protocol; this module opens its socket, and reads and writes
it when it is ready. For each packet the library makes a system call of its own: messages at QoS 0, of which
there are many, are therefore written here, a burst at once, between its packets and never within one.
"""

from __future__ import annotations

import asyncio
import socket
import ssl
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from link.address import BrokerAddress, Session, Will

# Seconds between two looks of the library whether a sign of life is due.
LOOK_S = 1.0
# Messages at QoS 1 that a broker may send before the first of them is acknowledged, which is when it is
# looked at: the rest waits there. MQTT 5 lets a client ask for this; to 3.1.1 the broker has its own figure.
UNACKNOWLEDGED_MAX = 100
# What a socket raises that takes no more just now.
_FULL = (BlockingIOError, ssl.SSLWantWriteError, ssl.SSLWantReadError)


class LoopedClient:
    """One connection: `open` first, `close` at the end; whatever happens, no socket is left behind.

    protocol: 5 or 4 (3.1.1). on_answer: told what the broker says of a message or a subscription, by the
    library's number of it. let_in: done with what the broker says to being asked in. lost: done once the
    connection has ended, with why. Of the loop's thread, but for what `open` does in one of its own.
    """

    def __init__(
        self,
        address: BrokerAddress,
        protocol: int,
        context: ssl.SSLContext | None,
        will: Will | None,
        *,
        keepalive_s: int,
        on_message: Callable[[MQTTMessage], None],
        on_answer: Callable[[int, list[ReasonCode]], None],
        session: Session | None = None,
    ) -> None:
        self._session = session
        self._loop = asyncio.get_running_loop()
        self._thread = threading.get_ident()
        self._address, self._keepalive_s = address, keepalive_s
        self.protocol = protocol
        self.let_in: asyncio.Future[ReasonCode] = self._loop.create_future()
        self.lost: asyncio.Future[str] = self._loop.create_future()
        self._fd: int | None = None
        self._link: Any = None
        self._rest = bytearray()
        self._is_cut = False
        """Whether the last write took part of `_rest`: nothing else may be written before the other part."""
        self.is_full = False
        """Whether something waits for the socket to take it."""
        self._looking: asyncio.TimerHandle | None = None
        self.library = library = Client(
            CallbackAPIVersion.VERSION2,
            client_id=session.client if session is not None else "",
            protocol=MQTTProtocolVersion.MQTTv5 if protocol == 5 else MQTTProtocolVersion.MQTTv311,
            reconnect_on_failure=False,
            manual_ack=True,
        )
        if address.username is not None:
            library.username_pw_set(address.username, address.password)
        if will is not None:
            library.will_set(will.topic, will.payload, qos=1, retain=will.retain)
        if context is not None:
            library.tls_set_context(context)
        library.on_socket_open = self._on_open
        library.on_socket_close = self._on_close
        library.on_socket_register_write = self._on_more
        library.on_connect = lambda _, __, ___, reason, ____: self._on_let_in(reason)
        library.on_disconnect = lambda _, __, ___, reason, ____: self._end(str(reason))
        library.on_message = lambda _, __, message: on_message(message)
        library.on_publish = lambda _, __, mid, reason, ___: on_answer(mid, [reason])
        library.on_subscribe = lambda _, __, mid, reasons, ___: on_answer(mid, reasons)

    async def open(self) -> None:
        """Open the socket and ask to be let in. OSError where nobody is there, or no TLS can be agreed."""
        wishes = None
        if self.protocol == 5:
            # The library has no types for it.
            wishes = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            wishes.ReceiveMaximum = UNACKNOWLEDGED_MAX
            if self._session is not None:
                wishes.ReceiveMaximum = self._session.unacknowledged_max
                wishes.SessionExpiryInterval = self._session.kept_s
        address = self._address
        enter = partial(self.library.connect, address.host, address.port, self._keepalive_s)
        if self._session is not None and self.protocol == 5:
            enter = partial(enter, clean_start=False)
        await asyncio.to_thread(enter, properties=wishes)

    def write(self, packets: bytes) -> None:
        """Whole packets: at once where the socket takes them, else as soon as it does."""
        if self.is_full or self._rest or self._link is None or self.library.want_write():
            self._rest += packets
            if not self.is_full:
                self._flush()
            return
        # Nothing waits: hundreds of times a second, and what `_flush` looks at besides costs as much again.
        try:
            sent = self._link.send(packets)
        except _FULL:
            sent = 0
        except Exception as error:  # half a packet may have gone out: nothing can follow it
            self._break(str(error))
            return
        if sent < len(packets):
            self._rest += packets[sent:]
            self._is_cut = True
            self._wait()

    async def close(self, most_s: float) -> None:
        """Say goodbye, so that no will is published; after so many seconds without."""
        if self.library.disconnect() == MQTTErrorCode.MQTT_ERR_SUCCESS:
            self._flush()
            await asyncio.wait([self.lost], timeout=most_s)
        self._break("closed here")

    # -- from the library; the first two may come from the thread that opens

    def _on_open(self, _: Client, __: object, link: Any) -> None:
        # Small packets would wait for Nagle's algorithm: stalls of 40 ms.
        link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._loop.call_soon_threadsafe(self._begin, link)

    def _on_more(self, *_: object) -> None:
        if threading.get_ident() == self._thread:
            self._loop.call_soon(self._flush)
        else:
            self._loop.call_soon_threadsafe(self._flush)

    def _on_close(self, *_: object) -> None:
        self._let_go()

    def _on_let_in(self, reason: ReasonCode) -> None:
        if not self.let_in.done():
            self.let_in.set_result(reason)

    # -- the socket

    def _begin(self, link: Any) -> None:
        if self.lost.done():  # given up while the thread was still at it
            link.close()
            return
        self._fd, self._link = link.fileno(), link
        self._loop.add_reader(self._fd, self._read)
        self._look()

    def _look(self) -> None:
        if self.library.loop_misc() == MQTTErrorCode.MQTT_ERR_SUCCESS:
            self._looking = self._loop.call_later(LOOK_S, self._look)

    def _read(self) -> None:
        try:
            while True:
                self.library.loop_read()
                link = self.library.socket()
                # What TLS has deciphered already makes no descriptor readable.
                if not isinstance(link, ssl.SSLSocket) or not link.pending():
                    return
        except Exception as error:  # whatever it is, the bytes that follow cannot be read any more
            self._break(str(error))

    def _flush(self) -> None:
        """Write what waits: the library's packets and ours by turns, each whole."""
        library = self.library
        link: Any = library.socket()
        if link is None:
            return
        try:
            if not self._is_cut and library.want_write():
                library.loop_write()
            if self._is_cut or (self._rest and not library.want_write()):
                with suppress(*_FULL):
                    del self._rest[: link.send(self._rest)]
                self._is_cut = bool(self._rest)
        except Exception as error:  # half a packet may have gone out: nothing can follow it
            self._break(str(error))
            return
        self._wait()

    def _wait(self) -> None:
        """Where something is left to be written: again once the socket takes more."""
        if self._fd is None:
            return
        waits = bool(self._rest) or self.library.want_write()
        if waits and not self.is_full:
            self._loop.add_writer(self._fd, self._flush)
        elif self.is_full and not waits:
            self._loop.remove_writer(self._fd)
        self.is_full = waits

    def _let_go(self) -> None:
        if self._fd is not None:
            self._loop.remove_reader(self._fd)
            self._loop.remove_writer(self._fd)
            self._fd, self._link, self.is_full = None, None, False
        if self._looking is not None:
            self._looking.cancel()

    def _break(self, why: str) -> None:
        """End it here and now."""
        self._let_go()
        link: Any = self.library.socket()
        if link is not None:
            link.close()
        self._end(why)

    def _end(self, why: str) -> None:
        if not self.lost.done():
            self.lost.set_result(why)
