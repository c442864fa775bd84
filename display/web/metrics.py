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

from contract.health import EVERY_S, HealthMessage
from contract.wire import Message
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
OF_DAEMON = (
    (CounterMetricFamily, "readings_sent", "ringtrue_readings_published", "readings sent to the broker"),
    (
        CounterMetricFamily,
        "readings_dropped",
        "ringtrue_readings_dropped",
        "readings that no display had, as the broker was too slow; the journal has them",
    ),
    (CounterMetricFamily, "connects", "ringtrue_broker_connects", "times that the daemon connected"),
    (GaugeMetricFamily, "disk_free_bytes", "ringtrue_disk_free_bytes", "free where the journal lies"),
    (GaugeMetricFamily, "resident_bytes", "ringtrue_resident_memory_bytes", "memory of the daemon"),
    (GaugeMetricFamily, "up_s", "ringtrue_up_seconds", "since the daemon was started"),
)
"""Kind, figure of a daemon, its metric's name and meaning."""
QUEUED = (
    ("waiting", "ringtrue_outbox_waiting", "messages that wait in the journal"),
    ("oldest_s", "ringtrue_outbox_oldest_seconds", "how long the first of them has waited at least"),
)
"""Figure of what waits, its metric's name and meaning."""
STALE_S = 3.5 * EVERY_S
"""A daemon that has not counted for so long is not told of as if it had: its counts are left out."""
KEPT_S = 1.0
"""How long one answer serves all who ask: anybody may."""


def metrics_route(feed: Feed) -> Route:
    """The route."""

    registry = CollectorRegistry(auto_describe=False)
    registry.register(_Bays(feed))
    kept: tuple[float, bytes] = (-KEPT_S, b"")

    async def metrics(_: Request) -> Response:
        nonlocal kept
        now_s = feed.now_s()
        if not kept[1] or now_s - kept[0] >= KEPT_S:
            said: bytes = generate_latest(registry)  # type: ignore[no-untyped-call]  # its stubs say none
            kept = now_s, said
        return Response(kept[1], headers={"Content-Type": CONTENT_TYPE_LATEST, "Cache-Control": "no-store"})

    return Route("/metrics", metrics)


class _Bays(Collector):
    def __init__(self, feed: Feed) -> None:
        self._feed = feed

    def collect(self) -> Iterable[Metric]:
        """All metrics, now."""
        bays = {tuple(name.split("/")): bay for name, bay in self._feed.bays.items()}
        yield _family(
            GaugeMetricFamily,
            "ringtrue_broker_up",
            "whether the broker is heard",
            (),
            [((), float(self._feed.away is None))],
        )
        is_heard = self._feed.away is None
        heard = {name: bay for name, bay in bays.items() if is_heard and bay.away is None}
        up = [(name, float(name in heard)) for name in bays]
        meaning = "whether the bay's daemon is running, as far as is heard"
        yield _family(GaugeMetricFamily, "ringtrue_bay_up", meaning, OF_BAY, up)
        yield _family(
            GaugeMetricFamily,
            "ringtrue_gauge_connected",
            "whether readings can come",
            OF_GAUGE,
            _connected(heard),
        )
        now_s = self._feed.now_s()
        ages = [(name, now_s - bay.counted_s) for name, bay in heard.items() if bay.health is not None]
        meaning = "since the bay's daemon counted last; its counts are told no more after a while"
        yield _family(GaugeMetricFamily, "ringtrue_counted_seconds", meaning, OF_BAY, ages)
        fresh = {name for name, age_s in ages if age_s <= STALE_S}
        health = {name: bay.health for name, bay in heard.items() if name in fresh and bay.health is not None}
        yield from _counted(health)
        yield from _bay_wide(health)


def _connected(bays: dict[tuple[str, ...], Bay]) -> Iterator[tuple[tuple[str, ...], float]]:
    for name, bay in bays.items():
        for gauge, state in bay.gauges.items():
            yield (*name, gauge), float(state["state"] == "connected")


def _counted(health: dict[tuple[str, ...], HealthMessage]) -> Iterator[Metric]:
    gauges = [
        ((*name, gauge), counts) for name, told in health.items() for gauge, counts in told.gauges.items()
    ]
    for field, (name, meaning) in COUNTED.items():
        yield _family(CounterMetricFamily, name, meaning, OF_GAUGE, _each(gauges, field))


def _bay_wide(health: dict[tuple[str, ...], HealthMessage]) -> Iterator[Metric]:
    bays = list(health.items())
    for kind, field, name, meaning in OF_DAEMON:
        yield _family(kind, name, meaning, OF_BAY, _each(bays, field))
    queues = [((*name, to), queue) for name, told in bays for to, queue in told.outbox.items()]
    for field, name, meaning in QUEUED:
        yield _family(GaugeMetricFamily, name, meaning, OF_QUEUE, _each(queues, field))


Samples = Iterable[tuple[tuple[str, ...], float]]


def _each(told: Iterable[tuple[tuple[str, ...], Message]], field: str) -> Samples:
    """One figure of each."""
    return [(of, getattr(one, field)) for of, one in told]


def _family(
    kind: type[CounterMetricFamily] | type[GaugeMetricFamily],
    name: str,
    meaning: str,
    labels: tuple[str, ...],
    samples: Samples,
) -> Metric:
    made = kind(name, meaning, labels=labels)
    for of, value in samples:
        made.add_metric(of, value)
    return made
