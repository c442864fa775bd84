"""What the bays of a broker count of themselves, as OpenMetrics (text format 1.0.0): `/metrics`.

Who watches over many bays asks here. Nobody is named in it, and nothing of an engine, so that it is as open
as the wall.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from prometheus_client import CollectorRegistry
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest
from prometheus_client.registry import Collector
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from contract.health import GaugeHealth, HealthMessage
from display.web.feed import Bay, Feed

OF_BAY = ("site", "bay")
OF_GAUGE = (*OF_BAY, "gauge")
OF_QUEUE = (*OF_BAY, "destination")
COUNTED = {
    "frames": ("ringtrue_frames", "whole frames that came from the gauge"),
    "readings": ("ringtrue_readings", "readings made of them"),
    "rejected": ("ringtrue_frames_rejected", "whole frames that were no reading"),
    "overlong": ("ringtrue_frames_overlong", "frames that did not end"),
    "halves": ("ringtrue_frames_halves", "frames that broke off"),
    "bytes_in": ("ringtrue_received_bytes", "bytes that came"),
    "bytes_discarded": ("ringtrue_discarded_bytes", "bytes that belonged to no frame"),
    "bytes_lost": ("ringtrue_lost_bytes", "bytes dropped in the daemon as a queue was full"),
    "openings": ("ringtrue_port_openings", "times that the port was opened"),
    "failures": ("ringtrue_port_failures", "times that the port failed or was not there"),
    "unanswered": ("ringtrue_requests_unanswered", "requests without an answer in time"),
}
"""Count of a gauge → its metric's name and meaning."""


def metrics_route(feed: Feed) -> Route:
    """The route."""

    async def metrics(_: Request) -> Response:
        registry = CollectorRegistry(auto_describe=False)
        registry.register(_Bays(feed))
        said: bytes = generate_latest(registry)  # type: ignore[no-untyped-call]  # its stubs say none
        return Response(said, headers={"Content-Type": CONTENT_TYPE_LATEST, "Cache-Control": "no-store"})

    return Route("/metrics", metrics)


class _Bays(Collector):
    def __init__(self, feed: Feed) -> None:
        self._feed = feed

    def collect(self) -> Iterable[Metric]:
        """All metrics, now."""
        bays = {tuple(name.split("/")): bay for name, bay in self._feed.bays.items()}
        yield _gauge(
            "ringtrue_broker_up",
            "whether the broker is heard",
            (),
            [((), float(self._feed.away is None))],
        )
        up = [(name, float(bay.away is None)) for name, bay in bays.items()]
        yield _gauge("ringtrue_bay_up", "whether the bay's daemon is running", OF_BAY, up)
        yield _gauge("ringtrue_gauge_connected", "whether readings can come", OF_GAUGE, _connected(bays))
        health = {name: bay.health for name, bay in bays.items() if bay.health is not None}
        yield from _counted(health)
        yield from _bay_wide(health)


def _connected(bays: dict[tuple[str, ...], Bay]) -> Iterator[tuple[tuple[str, ...], float]]:
    for name, bay in bays.items():
        for gauge, state in bay.gauges.items():
            yield (*name, gauge), float(state["state"] == "connected")


def _counted(health: dict[tuple[str, ...], HealthMessage]) -> Iterator[Metric]:
    gauges: list[tuple[tuple[str, ...], GaugeHealth]] = [
        ((*name, gauge), counts) for name, told in health.items() for gauge, counts in told.gauges.items()
    ]
    for field, (name, meaning) in COUNTED.items():
        yield _counter(name, meaning, OF_GAUGE, [(of, getattr(counts, field)) for of, counts in gauges])


def _bay_wide(health: dict[tuple[str, ...], HealthMessage]) -> Iterator[Metric]:
    told = list(health.items())
    yield _counter(
        "ringtrue_readings_published",
        "readings sent to the broker",
        OF_BAY,
        [(name, one.readings_sent) for name, one in told],
    )
    yield _counter(
        "ringtrue_readings_dropped",
        "readings that no display had, as the broker was too slow; the journal has them",
        OF_BAY,
        [(name, one.readings_dropped) for name, one in told],
    )
    yield _counter(
        "ringtrue_broker_connects",
        "times that the daemon connected to its broker",
        OF_BAY,
        [(name, one.connects) for name, one in told],
    )
    queues = [((*name, to), queue) for name, one in told for to, queue in one.outbox.items()]
    yield _gauge(
        "ringtrue_outbox_waiting",
        "messages that wait in the journal",
        OF_QUEUE,
        [(of, queue.waiting) for of, queue in queues],
    )
    yield _gauge(
        "ringtrue_outbox_oldest_seconds",
        "how long the first of them has waited at least",
        OF_QUEUE,
        [(of, queue.oldest_s) for of, queue in queues],
    )
    for field, name, meaning in (
        ("disk_free_bytes", "ringtrue_disk_free_bytes", "what is free where the journal lies"),
        ("resident_bytes", "ringtrue_resident_memory_bytes", "memory of the daemon"),
        ("up_s", "ringtrue_up_seconds", "since the daemon was started"),
    ):
        yield _gauge(name, meaning, OF_BAY, [(of, getattr(one, field)) for of, one in told])


Samples = Iterable[tuple[tuple[str, ...], float]]


def _gauge(name: str, meaning: str, labels: tuple[str, ...], samples: Samples) -> Metric:
    made = GaugeMetricFamily(name, meaning, labels=labels)
    for of, value in samples:
        made.add_metric(of, value)
    return made


def _counter(name: str, meaning: str, labels: tuple[str, ...], samples: Samples) -> Metric:
    made = CounterMetricFamily(name, meaning, labels=labels)
    for of, value in samples:
        made.add_metric(of, value)
    return made
