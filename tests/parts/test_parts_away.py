"""A writer's cluster on its bad days: each told in one line, and the writer is back by itself."""

from __future__ import annotations

import asyncio
from contextlib import aclosing
from dataclasses import replace
from pathlib import Path
from typing import Any

import nats.errors
import pytest
import structlog
from nats.js.api import ConsumerConfig, ConsumerInfo, StreamConfig, StreamInfo, StreamState
from nats.js.errors import NotFoundError

from config.stream import StreamSettings
from link import bursts, kept
from link.errors import LinkError, StreamError
from link.kept import STREAM
from link.stream import StreamReader
from link.tasks import end
from tests.link.outside import WAIT_S
from tests.parts.broker import fleet_broker
from tests.parts.cluster import Cluster, cluster
from tests.parts.test_parts_cluster import MINE, let_in, source

pytestmark = pytest.mark.slow

BACK_S = 15.0
"""Longest until a writer reads again from a cluster that is there."""


async def read_on(reader: StreamReader, came: asyncio.Queue[bytes]) -> None:
    async with aclosing(reader.batches()) as batches:
        async for batch in batches:
            await batch.taken()
            for _, payload in batch.messages:
                came.put_nowait(payload)


async def until_heard(nodes: Cluster, came: asyncio.Queue[bytes], payload: bytes) -> None:
    """Publish it until the reader has it: while there is no consumer the cluster keeps nothing."""
    async with let_in(nodes, "greywacke/bay-2") as bay:
        while True:
            await bay.publish(MINE.chain, payload, qos=1)
            try:
                async with asyncio.timeout(0.3):
                    while await came.get() != payload:
                        pass
                    return
            except TimeoutError:
                pass


async def test_a_consumer_that_is_taken_away_and_a_cluster_that_goes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    came: asyncio.Queue[bytes] = asyncio.Queue()
    async with cluster(tmp_path, []) as nodes:
        for node in nodes.nodes.values():  # as a server's own tools may
            users = node.config.with_name("node-users.conf")
            users.write_text(users.read_text().replace('"$JS.API.INFO",', '"$JS.API.INFO", "$JS.API.>",'))
            await node.reload()
        reading = asyncio.ensure_future(read_on(source(nodes), came))
        try:
            await nodes.until_made()
            await until_heard(nodes, came, b"first")
            async with nodes.asking() as stream:
                await stream.delete_consumer(STREAM, "writer")
            async with asyncio.timeout(BACK_S):
                await until_heard(nodes, came, b"second")
            said = capsys.readouterr().out
            assert said.count("consumer made") == 2
            assert said.count("somebody took its consumer away") == 1
            await nodes.stop()
            async with asyncio.timeout(WAIT_S):
                while "cannot be reached" not in said and "connection to the cluster ended" not in said:
                    await asyncio.sleep(0.05)  # the log tells no loop
                    said = capsys.readouterr().out
            for node in nodes.nodes.values():
                await node.start()
            await nodes.until_well()
            async with asyncio.timeout(BACK_S):
                await until_heard(nodes, came, b"third")
        finally:
            await end(reading)


async def test_a_certificate_that_has_ended_is_named_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    async with cluster(tmp_path, []) as nodes:
        certificate, key = nodes.authority.issue("writer", has_ended=True)
        reader = source(nodes, certificate=certificate, key=key)
        trying = asyncio.ensure_future(read_on(reader, asyncio.Queue()))
        said = ""
        async with asyncio.timeout(WAIT_S):
            while "ended" not in said:
                await asyncio.sleep(0.05)  # the log tells no loop
                said += capsys.readouterr().out
        with pytest.raises(LinkError, match=f"certificate {certificate} ended .*: put a new one there"):
            await reader._connect()
        await end(trying)
        assert said.count("trying on") == 1
    (tmp_path / "broker").mkdir()
    async with fleet_broker(tmp_path / "broker", [], by_certificate=True) as broker:
        certificate, key = broker.authority.issue("writer", has_ended=True)
        with pytest.raises(LinkError, match=f"certificate {certificate} ended .*: put a new one there"):
            async with bursts.connect(replace(broker.address("writer"), certificate=certificate, key=key)):
                pass


class Silent:
    """A cluster that says nothing of a consumer, and makes it; or has another of that name."""

    def __init__(self, **other: Any) -> None:
        self._other, self.made = other, 0

    async def stream_info(self, name: str) -> Any:
        raise NotFoundError

    async def add_stream(self, config: StreamConfig) -> Any:
        return StreamInfo(config=config, state=StreamState(0, 0, 0, 0, 0))

    async def consumer_info(self, *_: Any, **__: Any) -> ConsumerInfo:
        raise nats.errors.TimeoutError

    async def add_consumer(self, _: str, config: ConsumerConfig, **__: Any) -> Any:
        self.made += 1
        return type("Made", (), {"config": config.evolve(**self._other)})()


async def test_a_consumer_that_nobody_tells_anything_of_is_made() -> None:
    settings = StreamSettings.model_validate({"kind": "stream", "servers": ["nats://127.0.0.1"]})
    silent: Any = Silent()
    await kept.make_sure(silent, settings, structlog.get_logger())
    assert silent.made == 1
    other: Any = Silent(max_deliver=3)
    with pytest.raises(StreamError, match="max_deliver 3"):
        await kept.make_sure(other, settings, structlog.get_logger())
