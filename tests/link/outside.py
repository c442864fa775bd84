"""Brokers and clients that are not ours: mosquitto and its command-line clients."""

from __future__ import annotations

import asyncio
import json
import socket
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

from link.address import BrokerAddress
from link.broker import USERNAME, find_mosquitto

WAIT_S = 45.0
"""Longest wait for anything that is to come."""


async def until(is_so: Callable[[], bool]) -> None:
    """Wait until something is so that no event tells."""
    async with asyncio.timeout(WAIT_S):
        while not is_so():  # noqa: ASYNC110 another process tells nobody
            await asyncio.sleep(0.01)


async def until_listening(address: BrokerAddress) -> None:
    """Wait until a broker takes connections."""
    async with asyncio.timeout(WAIT_S):
        while True:
            try:
                _, writer = await asyncio.open_connection(address.host, address.port)
            except OSError:
                await asyncio.sleep(0.01)
            else:
                writer.close()
                return


def free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def login(address: BrokerAddress) -> list[str]:
    """Options of mosquitto's clients that reach a broker."""
    options = ["-h", address.host, "-p", str(address.port)]
    if address.username is not None:
        options += ["-u", address.username, "-P", address.password or ""]
    if address.ca_file is not None:
        options += ["--cafile", str(address.ca_file)]
    return options


class Ear:
    """mosquitto_sub: what an independent subscriber hears, as (topic, retained, payload)."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, bool, str]] = []
        self._news = asyncio.Event()

    async def until(
        self, enough: Callable[[list[tuple[str, bool, str]]], bool], patience_s: float = WAIT_S
    ) -> None:
        """Wait until what was heard is enough."""
        async with asyncio.timeout(patience_s):
            while not enough(self.heard):
                self._news.clear()
                await self._news.wait()

    def payloads(self, ending: str) -> list[str]:
        """All payloads of topics that end so."""
        return [payload for topic, _, payload in self.heard if topic.endswith(ending)]

    async def until_payload(self, ending: str, payload: str | None = None) -> str:
        """Wait for a payload on such a topic; without `payload`: any."""
        await self.until(lambda heard: any(t.endswith(ending) and payload in (None, p) for t, _, p in heard))
        return self.payloads(ending)[-1]

    async def _listen(self, stream: asyncio.StreamReader) -> None:
        while line := await stream.readline():
            topic, retained, payload = line.decode(errors="replace").rstrip("\n").split(" ", 2)
            self.heard.append((topic, retained == "1", payload))
            self._news.set()


@asynccontextmanager
async def ear(address: BrokerAddress, topic: str = "ringtrue/#", *options: str) -> AsyncIterator[Ear]:
    """An ear that is subscribed: it has heard its own call."""
    # Who has a bay's credential may write commands only.
    where = "ringtrue/1/ear/ear/command" if address.username == USERNAME else "ear"
    call = f"{where}/{id(asyncio.current_task())}-{free_port()}"
    process = await asyncio.create_subprocess_exec(
        "mosquitto_sub", *login(address), "-t", topic, "-t", call, "-q", "1", "-F", "%t %r %p", *options,
        stdout=asyncio.subprocess.PIPE, limit=1 << 20,
    )  # fmt: skip
    assert process.stdout is not None
    hearing = Ear()
    listening = asyncio.ensure_future(hearing._listen(process.stdout))
    try:
        async with asyncio.timeout(WAIT_S):
            while not any(topic == call for topic, _, _ in hearing.heard):
                await speak(address, call, "hello")
                hearing._news.clear()
                try:
                    await asyncio.wait_for(hearing._news.wait(), 0.2)
                except TimeoutError:
                    continue
        yield hearing
    finally:
        if process.returncode is None:
            process.kill()
        await process.wait()
        await listening


async def speak(address: BrokerAddress, topic: str, payload: str | bytes, *options: str) -> int:
    """mosquitto_pub: one message; its exit code."""
    data = payload if isinstance(payload, bytes) else payload.encode()
    process = await asyncio.create_subprocess_exec(
        "mosquitto_pub", *login(address), "-t", topic, "-s", "-q", "1", *options,
        stdin=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.DEVNULL,
    )  # fmt: skip
    await process.communicate(data)
    return process.returncode or 0


class Mosquitto:
    """A mosquitto started on its own, as a workshop's server would have it; keeps its port."""

    def __init__(self, folder: Path, lines: Sequence[str] = (), **address: Any) -> None:
        self.address = BrokerAddress("127.0.0.1", free_port(), **address)
        self._config = folder / "separate.conf"
        rest = lines or ["allow_anonymous true"]
        self._config.write_text(
            "\n".join([f"listener {self.address.port} 127.0.0.1", "user root", *rest]) + "\n"
        )
        self._process: asyncio.subprocess.Process | None = None

    @property
    def pid(self) -> int | None:
        return self._process.pid if self._process is not None else None

    async def start(self) -> None:
        program = find_mosquitto()
        assert program is not None, "the tests need mosquitto"
        self._process = await asyncio.create_subprocess_exec(
            program, "-c", str(self._config), stderr=asyncio.subprocess.DEVNULL
        )
        await until_listening(self.address)

    async def kill(self) -> None:
        if self._process is not None:
            if self._process.returncode is None:
                self._process.kill()
            await self._process.wait()
            self._process = None


@asynccontextmanager
async def mosquitto(folder: Path, lines: Sequence[str] = (), **address: Any) -> AsyncIterator[Mosquitto]:
    """A separate mosquitto while the block runs."""
    broker = Mosquitto(folder, lines, **address)
    await broker.start()
    try:
        yield broker
    finally:
        await broker.kill()


class Cable:
    """A TCP relay to a broker that can be pulled out and plugged in again."""

    def __init__(self, far: BrokerAddress) -> None:
        self._far = far
        self.address = replace(far, port=free_port())
        self._server: asyncio.Server | None = None
        self._relays: set[asyncio.Task[None]] = set()

    async def __aenter__(self) -> Self:
        await self.plug_in()
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.pull()

    async def plug_in(self) -> None:
        self._server = await asyncio.start_server(self._accept, "127.0.0.1", self.address.port)

    async def pull(self) -> None:
        if self._server is not None:
            self._server.close()
            self._server = None
        for relay in self._relays:
            relay.cancel()
        await asyncio.gather(*self._relays, return_exceptions=True)
        self._relays.clear()

    async def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._relays.add(task)
        far_reader, far_writer = await asyncio.open_connection(self._far.host, self._far.port)
        try:
            await asyncio.gather(_relay(reader, far_writer), _relay(far_reader, writer))
        except asyncio.CancelledError:
            pass  # pulled; the stream server would log it
        finally:
            for end in (writer, far_writer):
                end.transport.abort()


async def _relay(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    with suppress(OSError):
        while data := await reader.read(1 << 16):
            writer.write(data)
            await writer.drain()
    writer.close()


def json_of(text: str) -> dict[str, Any]:
    """A payload as an object."""
    value = json.loads(text)
    assert isinstance(value, dict)
    return value
