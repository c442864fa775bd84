"""A subscriber that costs next to nothing: MQTT 3.1.1 at QoS 0, packets counted and stamped as they come.

Frames as the standard has them (OASIS MQTT 3.1.1, 2 and 3):

    byte   0     1 …        then
           3x    remaining  topic length (2), topic, payload        PUBLISH, QoS 0
"""

from __future__ import annotations

import socket
import struct
import time
from collections.abc import Iterator
from contextlib import suppress
from multiprocessing.connection import Connection

from tests.benchmarks.board import Board

RECEIVE_BYTES = 1 << 16
# Of the socket; so that a burst waits here and not in the broker.
BUFFER_BYTES = 1 << 22
CONNECT_PAUSE_S = 0.005


class Listener:
    """One subscription on a broker of this machine; waits until the broker listens."""

    def __init__(self, port: int, topic: str) -> None:
        self._socket = _connected(port)
        said = b"\0\4MQTT\4\2\0\0" + _text(f"bench-{time.monotonic_ns()}")
        self._socket.sendall(_packet(0x10, said) + _packet(0x82, b"\0\1" + _text(topic) + b"\0"))
        self._rest = b""
        seen = 0
        while seen < 2:  # CONNACK and SUBACK
            for kind, body in self._take()[1]:
                if kind & 0xF0 == 0x30:  # a broker may send what comes before it says that it will
                    continue
                seen += 1
                if body[-1] >= 0x80 or kind not in (0x20, 0x90):
                    raise ConnectionError(f"the broker refused: packet {kind:#x}, {body!r}")

    def count(self) -> Iterator[tuple[int, int]]:
        """For ever: time (monotonic ns) and how many messages came at it."""
        while True:
            time_ns, packets = self._take()
            yield time_ns, len(packets)

    def messages(self) -> Iterator[tuple[int, str, bytes]]:
        """For ever: time (monotonic ns), topic, payload."""
        while True:
            time_ns, packets = self._take()
            for _, body in packets:
                end = 2 + int.from_bytes(body[:2], "big")
                yield time_ns, body[2:end].decode(), body[end:]

    def _take(self) -> tuple[int, list[tuple[int, bytes]]]:
        """The next packets, at least one, as (first byte, body)."""
        found: list[tuple[int, bytes]] = []
        time_ns = 0
        while not found:
            data = self._socket.recv(RECEIVE_BYTES)
            time_ns = time.monotonic_ns()
            if not data:
                raise ConnectionError("the broker went away")
            data = self._rest + data
            at = 0
            while (end := _end(data, at)) is not None and end[1] <= len(data):
                found.append((data[at], data[end[0] : end[1]]))
                at = end[1]
            self._rest = data[at:]
        return time_ns, found


def count(board: Board, port: int, topic: str) -> None:
    """A process: keeps the number of messages heard on the board."""
    listener = Listener(port, topic)
    board.listening = 1
    with suppress(ConnectionError):  # the measurement is over
        for time_ns, number in listener.count():
            board.heard += number
            board.heard_ns = time_ns


def record(board: Board, port: int, topic: str, result: Connection) -> None:
    """A process: hears messages up to the wanted number, then hands over (time, topic, payload) of each."""
    listener = Listener(port, topic)
    board.listening = 1
    heard = []
    for message in listener.messages():
        heard.append(message)
        board.heard += 1
        if board.wanted and board.heard >= board.wanted:
            break
    result.send(heard)


def _connected(port: int) -> socket.socket:
    while True:
        link = socket.socket()
        link.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, BUFFER_BYTES)
        link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        try:
            link.connect(("127.0.0.1", port))
        except OSError:
            link.close()
            time.sleep(CONNECT_PAUSE_S)
        else:
            return link


def _text(text: str) -> bytes:
    return struct.pack(">H", len(text)) + text.encode()


def _packet(kind: int, body: bytes) -> bytes:
    assert len(body) < 16_384
    size = len(body)
    return bytes([kind, *([size] if size < 128 else [size % 128 | 128, size // 128])]) + body


def _end(data: bytes, at: int) -> tuple[int, int] | None:
    """Where the body of the packet at `at` begins and ends; None where its length is not there yet."""
    size = shift = 0
    for place in range(at + 1, min(at + 5, len(data))):
        size |= (data[place] & 127) << shift
        if data[place] < 128:
            return place + 1, place + 1 + size
        shift += 7
    return None
