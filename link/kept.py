"""What a cluster must keep for a writer: made where it is not there; what cannot be mended is said."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import Any

from nats.errors import Error
from nats.js import JetStreamContext
from nats.js.api import (
    AckPolicy,
    ConsumerConfig,
    DeliverPolicy,
    DiscardPolicy,
    RetentionPolicy,
    StorageType,
    StreamConfig,
    StreamInfo,
)
from nats.js.errors import NotFoundError

from config.stream import StreamSettings
from contract.subjects import KEPT_PREFIX, subject_of
from contract.topics import Topics
from link.errors import StreamError

STREAM = "$MQTT_msgs"
"""Where the cluster keeps every message at QoS 1."""

_EVERY = Topics("*", "*")
FILTERS = tuple(
    KEPT_PREFIX + subject_of(topic)
    for topic in (_EVERY.inspection_result("*"), _EVERY.chain, _EVERY.checkpoint)
)
"""What a writer reads of it."""
ACKNOWLEDGE_S = 30.0
"""Seconds after which what was handed out and not acknowledged goes to another writer."""
ANSWER_S = 4.0
"""Seconds for the cluster to say how the consumer is, or to make it."""
HEARD_S = 0.05
"""Between two looks whether all nodes have heard of a consumer."""
UNACKNOWLEDGED_MAX = 2000
"""Messages handed out to all writers together."""


async def make_sure(stream: JetStreamContext, settings: StreamSettings, log: Any) -> None:
    """Stream and consumer are there. Raises StreamError where they are others than a writer needs, and the
    library's own errors where the cluster does not answer."""
    kept = await _stream(stream, settings)
    try:
        there = (await stream.consumer_info(STREAM, settings.consumer, timeout=ANSWER_S)).config
    except NotFoundError:
        there = await _make(stream, settings, log)
        if kept.state.last_seq and not kept.state.consumer_count:
            log.error(
                "bays bridged before there was a writer, or somebody took its consumer away: what they sent "
                "meanwhile the cluster did not keep; what the chain shows to be missing is asked for, and "
                "`ringtrue send resend since=…` at a bay brings all of it",
                messages=kept.state.last_seq - kept.state.messages,
            )
    except TimeoutError:
        # Of one that was taken away under it a node may answer nothing for a minute. Who makes consumers is
        # another, and the same again changes none.
        there = await _make(stream, settings, log)
    wanted = _wanted(settings)
    for key in ("ack_policy", "deliver_policy", "max_deliver", "num_replicas", "deliver_subject"):
        _same(key, getattr(there, key), getattr(wanted, key), settings)
    filters = there.filter_subjects or [there.filter_subject]
    _same("filter_subjects", sorted(map(str, filters)), sorted(FILTERS), settings)


async def _make(stream: JetStreamContext, settings: StreamSettings, log: Any) -> ConsumerConfig:
    made = await stream.add_consumer(STREAM, _wanted(settings), timeout=ANSWER_S)
    await _until_all_know(stream, settings)
    log.info("consumer made", stream=STREAM, replicas=settings.replicas)
    return made.config


async def _until_all_know(stream: JetStreamContext, settings: StreamSettings) -> None:
    """A node that has not heard of a consumer yet lets go of what comes for it, and then all do. Where one is
    away there is no waiting for it."""
    with suppress(Error, TimeoutError):
        async with asyncio.timeout(ANSWER_S):
            while True:
                there = (await stream.consumer_info(STREAM, settings.consumer, timeout=ANSWER_S)).cluster
                if there is None or all(node.current for node in there.replicas or ()):
                    return
                await asyncio.sleep(HEARD_S)


async def _stream(stream: JetStreamContext, settings: StreamSettings) -> StreamInfo:
    try:
        found = await stream.stream_info(STREAM)
    except NotFoundError:
        return await stream.add_stream(
            StreamConfig(
                name=STREAM,
                subjects=[f"{KEPT_PREFIX}>"],
                retention=RetentionPolicy.INTEREST,
                storage=StorageType.FILE,
                num_replicas=settings.replicas,
                max_bytes=_bytes(settings),
                discard=DiscardPolicy.NEW,
            )
        )
    config = found.config
    if config.storage != StorageType.FILE or (config.num_replicas or 1) < settings.replicas:
        raise StreamError(
            f"the cluster keeps {STREAM} in {config.storage}, {config.num_replicas} times: it must be in "
            f"file, {settings.replicas} times; was it made when there was one node? Edit it, or have it made "
            "anew"
        )
    if config.retention != RetentionPolicy.INTEREST:
        raise StreamError(f"the cluster keeps {STREAM} by {config.retention}: it must be by interest")
    if config.max_age or (config.max_msgs or 0) > 0:
        raise StreamError(f"the cluster lets go of what is in {STREAM} by age or number: it must not")
    if config.max_bytes != _bytes(settings) or config.discard != DiscardPolicy.NEW:
        # As MQTT of the cluster makes it, where a bay came before any writer: without end. A node whose store
        # is exceeded stops (tried); one that refuses has bays keep what they have.
        await stream.update_stream(config.evolve(max_bytes=_bytes(settings), discard=DiscardPolicy.NEW))
    return found


def _bytes(settings: StreamSettings) -> int:
    return int(settings.keep_gb * 1e9)


def _wanted(settings: StreamSettings) -> ConsumerConfig:
    return ConsumerConfig(
        durable_name=settings.consumer,
        deliver_policy=DeliverPolicy.ALL,
        ack_policy=AckPolicy.EXPLICIT,
        ack_wait=ACKNOWLEDGE_S,
        max_deliver=-1,
        max_ack_pending=UNACKNOWLEDGED_MAX,
        filter_subjects=list(FILTERS),
        num_replicas=settings.replicas,
    )


def _same(key: str, found: object, wanted: object, settings: StreamSettings) -> None:
    if found != wanted:
        raise StreamError(
            f"consumer {settings.consumer} of the cluster has {key} {found}, and must have {wanted}: give "
            f"[source] consumer another name, and take {settings.consumer} away once the new one reads"
        )
