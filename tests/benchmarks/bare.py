"""The bare minimum of the same work: what a few lines of script would do."""

from __future__ import annotations

import os
import select
import socket
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from multiprocessing.connection import Connection

import paho.mqtt.client as paho
import serial
from paho.mqtt.enums import CallbackAPIVersion

from tests.benchmarks.board import Board, prefer
from tests.benchmarks.feeder import LINE_BYTES, paced

TOPIC = "bare/reading"
READ_BYTES = 65_536
# Seconds: longer than any measurement, so that no keepalive is due within.
KEEPALIVE_S = 3600


def read_and_publish(board: Board, path: str, port: int, number: int, threaded: bool) -> None:
    """A process: pyserial's `readline`, `float`, paho's publish at QoS 0. threaded: paho's own loop runs."""
    client = _client(port)
    if threaded:
        client.loop_start()
    with serial.Serial(path, 115200) as gauge:
        board.ready = 1
        start_ns = time.process_time_ns()
        for _ in range(number):
            client.publish(TOPIC, str(float(gauge.readline())))
        # What paho's thread has still to send is its work too.
        while board.heard - board.base < number:
            time.sleep(0.005)
        board.cpu_ns = time.process_time_ns() - start_ns
    time.sleep(60)


@contextmanager
def piped(path: str, port: int) -> Iterator[tuple[subprocess.Popen[bytes], subprocess.Popen[bytes]]]:
    """`cat` of a port, made raw, into `mosquitto_pub`, a message a line, while the block runs."""
    subprocess.run(["stty", "-F", path, "raw", "-echo"], check=True)
    reader = subprocess.Popen(["cat", path], stdout=subprocess.PIPE)
    publisher = subprocess.Popen(
        ["mosquitto_pub", "-h", "127.0.0.1", "-p", str(port), "-t", TOPIC, "-l"], stdin=reader.stdout
    )
    try:
        yield reader, publisher
    finally:
        for tool in (reader, publisher):
            tool.terminate()
            tool.wait()


def read_and_discard(board: Board, path: str, number: int) -> None:
    """A process: takes the bytes off the pseudo-terminal."""
    far = os.open(path, os.O_RDWR | os.O_NOCTTY)
    board.ready = 1
    start_ns = time.process_time_ns()
    left = number * LINE_BYTES
    while left > 0:
        left -= len(os.read(far, READ_BYTES))
        board.heard = number - max(left, 0) // LINE_BYTES
    board.heard_ns = time.monotonic_ns()
    board.cpu_ns = time.process_time_ns() - start_ns
    time.sleep(60)


def forward(board: Board, paths: Sequence[str], port: int, nice: int) -> None:
    """A process: waits for all ports at once, publishes each line as it comes, with the time at which it was
    read, under `TOPIC` and the port's number."""
    prefer(nice)
    client = _client(port)
    waiting = select.epoll()
    numbers = {}
    for number, path in enumerate(paths):
        far = os.open(path, os.O_RDWR | os.O_NOCTTY)
        waiting.register(far, select.EPOLLIN)
        numbers[far] = number
    board.ready = 1
    line = 0
    while True:
        for far, _ in waiting.poll():
            for text in os.read(far, READ_BYTES).splitlines():
                line += 1
                # As long as a reading's message.
                said = b'{"seq":%d,"t_ns":%d,"value_mm":%r}' % (line, time.monotonic_ns(), float(text))
                client.publish(f"{TOPIC}/{numbers[far]}", said)


def publish_paced(
    port: int, result: Connection, gauges: int, number: int, period_s: float, seed: int, nice: int
) -> None:
    """A process: publishes as many messages as that many gauges send; then hands over when, by payload, and
    the processor seconds that took."""
    prefer(nice)
    client = _client(port)
    written: dict[bytes, int] = {}
    start_ns = time.process_time_ns()
    for line, gauge in paced(gauges, number, period_s, seed):
        # As long as a reading's message.
        payload = b'{"seq":%d,"t_ns":%d,"value_mm":%d.001}' % (line, time.monotonic_ns(), gauge)
        written[payload] = time.monotonic_ns()
        client.publish(TOPIC, payload)
    result.send((written, (time.process_time_ns() - start_ns) / 1e9))
    time.sleep(60)


def _client(port: int) -> paho.Client:
    client = paho.Client(CallbackAPIVersion.VERSION2)

    def opened(*arguments: object) -> None:
        link = arguments[2]
        if isinstance(link, socket.socket):
            link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    client.on_socket_open = opened
    client.connect("127.0.0.1", port, KEEPALIVE_S)
    while not client.is_connected():
        client.loop(0.1)
    return client
