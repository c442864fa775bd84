"""Whatever a receiver answers, or does not, is an answer in time; a status that came counts."""

from __future__ import annotations

import asyncio
import gc
import gzip
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress

import pytest

from link.tasks import end
from records.forwarding import receiver as receiver_module
from records.forwarding.forwarder import Answer
from records.forwarding.receiver import SAID_MAX, Receiver

OK = b"HTTP/1.1 200 OK\r\n"
Served = Callable[[bytes, asyncio.StreamWriter], Awaitable[None]]


@asynccontextmanager
async def serving(serve: Served) -> AsyncIterator[str]:
    """A receiver's address, HOST:PORT. serve: is given the head of the request."""

    served: list[asyncio.Task[None]] = []

    async def one(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        served.append(task)
        with suppress(ConnectionError, asyncio.CancelledError):
            await serve(await reader.readuntil(b"\r\n\r\n"), writer)
        writer.close()

    async with await asyncio.start_server(one, "127.0.0.1", 0) as server:
        yield f"127.0.0.1:{server.sockets[0].getsockname()[1]}"
        await end(*served)


async def answered(*parts: bytes, hangs: bool = False) -> Answer:
    """What comes of an answer in these parts. hangs: the last of them again and again, slowly."""

    async def serve(_: bytes, writer: asyncio.StreamWriter) -> None:
        for part in parts:
            writer.write(part)
            await writer.drain()
        while hangs:
            writer.write(parts[-1])
            await writer.drain()
            await asyncio.sleep(0.01)

    async with serving(serve) as at, Receiver(f"http://{at}/x", secret=b"s", key_id="a/b") as receiver:
        answer = await asyncio.wait_for(receiver.post(b"{}"), 10.0)
    gc.collect()  # the library leaves it to the loop to close a text that was not read to its end
    for _ in range(20):
        await asyncio.sleep(0)
    return answer


@pytest.mark.parametrize(
    "rest",
    [
        b"Content-Length: 100\r\n\r\nbroken off",
        b"Content-Encoding: gzip\r\nContent-Length: 4\r\n\r\nabcd",
        b"Content-Length: 1048576\r\n\r\n" + bytes(2**20),
    ],
    ids=["closed within", "not what it says", "1 MiB"],
)
async def test_what_was_answered_by_2xx_is_delivered_however_its_text_ends(rest: bytes) -> None:
    assert (await answered(OK + rest)).status == 200


async def test_a_slow_answer_is_not_waited_for_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(receiver_module, "WHOLE_S", 0.2)
    assert (await answered(OK + b"\r\n", b"x", hangs=True)).status == 200
    no_end = await answered(OK + b"X: ", b"x", hangs=True)
    assert no_end == Answer(None, "no answer in time")


async def test_an_answer_that_unpacks_to_a_great_one_is_left_packed() -> None:
    bomb = gzip.compress(bytes(10**7))
    answer = await answered(OK + b"Content-Encoding: gzip\r\nContent-Length: %d\r\n\r\n" % len(bomb) + bomb)
    assert (answer.status, len(answer.said) <= SAID_MAX) == (200, True)


async def test_what_it_says_is_one_line_that_can_be_shown_and_kept() -> None:
    """PostgreSQL keeps no NUL in a text, and a terminal does what its own sequences say."""
    assert (await answered(OK + b"\r\n\0no\r\n\x1b[31mred")).said == "no [31mred"
    moved = b"HTTP/1.1 307 X\r\nContent-Length: 0\r\nLocation: https://" + b"a" * 5000 + b"\r\n\r\n"
    assert len((await answered(moved)).said) < 2 * SAID_MAX


@pytest.mark.parametrize(
    ("end", "target"), [("", "/"), ("?bay=2", "/?bay=2"), ("/{a}", "/%7Ba%7D"), ("/a/../b", "/b")]
)
async def test_what_is_signed_is_what_the_receiver_is_asked_for(
    end: str, target: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """RFC 9421, 2.2.2: the target URI, which a receiver knows by Host and the first line alone."""
    heads, signed_for = [], []

    async def serve(head: bytes, writer: asyncio.StreamWriter) -> None:
        heads.append(head.decode())
        writer.write(OK + b"Content-Length: 0\r\n\r\n")
        await writer.drain()

    def signed(url: str, *_: object, **__: object) -> dict[str, str]:
        signed_for.append(url)
        return {}

    monkeypatch.setattr(receiver_module, "signed", signed)
    async with serving(serve) as at, Receiver(f"HTTP://{at}{end}", secret=b"s", key_id="a/b") as receiver:
        assert (await receiver.post(b"{}")).status == 200
    assert heads[0].startswith(f"POST {target} HTTP/1.1\r\n")
    assert signed_for == [f"http://{at}{target}"]


async def test_what_goes_in_clear_goes_by_no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("HTTP_PROXY", "http_proxy", "ALL_PROXY", "all_proxy"):
        monkeypatch.setenv(name, "http://127.0.0.1:9")
    for name in ("NO_PROXY", "no_proxy"):
        monkeypatch.delenv(name, raising=False)
    assert (await answered(OK + b"Content-Length: 2\r\n\r\nok")).said == "ok"


def test_a_host_that_is_none_is_said_at_once() -> None:
    for url, said in (("https://xn--a.example/", "not allowed"), ("https:///x", "no host")):
        with pytest.raises(ValueError, match=said):
            Receiver(url, secret=None, key_id="a/b")
