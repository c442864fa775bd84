"""Metrics are read back by the OpenMetrics parser of the public client library."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx
import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from contract.health import GaugeHealth, HealthMessage, WaitingHealth, health_payload
from contract.states import GaugeStateMessage, gauge_state_payload, status_payload
from contract.topics import Topics
from display.web.feed import Feed
from tests.display.site import TOPICS, settled, site
from tests.ringtrue.inspecting.line import Line

pytestmark = pytest.mark.slow

GAUGE = GaugeHealth(
    readings=98, frames=100, rejected=2, overlong=0, halves=1, bytes_in=1300, bytes_discarded=7,
    bytes_lost=0, openings=2, failures=1, unanswered=0,
)  # fmt: skip
HEALTH = HealthMessage(
    time="2026-11-26T06:00:00.000Z", up_s=120.5, gauges={"indicator-1": GAUGE}, readings_sent=98,
    readings_dropped=3, connects=1,
    outbox={"mqtt": WaitingHealth(waiting=0, oldest_s=0), "records": WaitingHealth(waiting=4, oldest_s=61)},
    disk_free_bytes=10**9, resident_bytes=60_000_000,
)  # fmt: skip

LABELS = ("site", "bay", "gauge", "destination")
Samples = dict[str, dict[tuple[str, ...], float]]


async def scraped(browser: httpx.AsyncClient) -> Samples:
    answer = await browser.get("/metrics")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    assert answer.text.endswith("# EOF\n")
    found: Samples = {}
    # The library has no types for it.
    for family in text_string_to_metric_families(answer.text):  # type: ignore[no-untyped-call]
        assert family.documentation
        for sample in family.samples:
            of = tuple(sample.labels[label] for label in LABELS if label in sample.labels)
            found.setdefault(sample.name, {})[of] = sample.value
    return found


async def test_a_bay_is_told_with_all_that_it_counts(tmp_path: Path) -> None:
    line = Line()
    gauge = GaugeStateMessage(state="absent", reason="unplugged", since="2026-11-26T06:00:00.000Z")
    line.publish(TOPICS.status, status_payload("online"), retain=True)
    line.publish(TOPICS.gauge_state("indicator-1"), gauge_state_payload(gauge), retain=True)
    line.publish(TOPICS.health, health_payload(HEALTH), retain=True)
    async with site(tmp_path, line) as made, made.browser() as browser:
        await settled(lambda: any(bay.health is not None for bay in made.world.feed.bays.values()))
        found = await scraped(browser)
    bay = (TOPICS.site, TOPICS.bay)
    assert found["ringtrue_broker_up"] == {(): 1}
    assert found["ringtrue_bay_up"] == {bay: 1}
    assert found["ringtrue_gauge_connected"] == {(*bay, "indicator-1"): 0}
    assert found["ringtrue_frames_total"] == {(*bay, "indicator-1"): 100}
    assert found["ringtrue_frames_rejected_total"] == {(*bay, "indicator-1"): 2}
    assert found["ringtrue_readings_dropped_total"] == {bay: 3}
    assert found["ringtrue_outbox_waiting"] == {(*bay, "mqtt"): 0, (*bay, "records"): 4}
    assert found["ringtrue_outbox_oldest_seconds"][*bay, "records"] == 61
    assert found["ringtrue_disk_free_bytes"] == {bay: 1e9}


async def test_without_a_broker_only_that_is_told(tmp_path: Path) -> None:
    line = Line()
    line.is_up = False
    async with site(tmp_path, line) as made, made.browser() as browser:
        found = await scraped(browser)
    assert found == {"ringtrue_broker_up": {(): 0}}


def told(line: Line, status: bytes | None = None) -> None:
    gauge = GaugeStateMessage(state="connected", reason="reads", since="2026-11-26T06:00:00.000Z")
    line.publish(TOPICS.status, status or status_payload("online"), retain=True)
    line.publish(TOPICS.gauge_state("indicator-1"), gauge_state_payload(gauge), retain=True)
    line.publish(TOPICS.health, health_payload(HEALTH), retain=True)


def clocked(feed: Feed) -> list[float]:
    """The feed's clock, put into a hand: what it shows is the only entry."""
    hand = [feed.now_s()]
    feed.now_s = lambda: hand[0]
    return hand


async def test_what_a_bay_no_longer_keeps_is_told_no_more(tmp_path: Path) -> None:
    line = Line()
    told(line)
    async with site(tmp_path, line) as made, made.browser() as browser:
        feed = made.world.feed
        await settled(lambda: any(bay.health is not None for bay in feed.bays.values()))
        line.publish(TOPICS.health, b"")
        await settled(lambda: all(bay.health is None for bay in feed.bays.values()))
        found = await scraped(browser)
    assert found["ringtrue_bay_up"] == {(TOPICS.site, TOPICS.bay): 1}
    assert "ringtrue_frames_total" not in found


async def test_of_a_dead_bay_only_that_is_told(tmp_path: Path) -> None:
    """What it counted last, and how its gauges stood, is retained and no longer so (OpenMetrics 1.0.0,
    Staleness: a metric that is not exposed is no longer there)."""
    line = Line()
    told(line)
    async with site(tmp_path, line) as made, made.browser() as browser:
        feed = made.world.feed
        hand = clocked(feed)
        await settled(lambda: any(bay.health is not None for bay in feed.bays.values()))
        line.publish(TOPICS.status, status_payload("offline"), retain=True)
        await settled(lambda: all(bay.away is not None for bay in feed.bays.values()))
        hand[0] += 2
        assert await scraped(browser) == {
            "ringtrue_broker_up": {(): 1}, "ringtrue_bay_up": {(TOPICS.site, TOPICS.bay): 0},
        }  # fmt: skip


async def test_counts_that_have_not_come_for_long_are_told_no_more(tmp_path: Path) -> None:
    line, bay = Line(), (TOPICS.site, TOPICS.bay)
    told(line)
    async with site(tmp_path, line) as made, made.browser() as browser:
        feed = made.world.feed
        hand = clocked(feed)
        await settled(lambda: any(one.health is not None for one in feed.bays.values()))
        hand[0] += 30
        assert (await scraped(browser))["ringtrue_disk_free_bytes"] == {bay: 1e9}
        hand[0] += 30
        found = await scraped(browser)
        assert found["ringtrue_bay_up"] == {bay: 1}
        assert found["ringtrue_counted_seconds"][bay] == pytest.approx(60, abs=5)
        assert "ringtrue_disk_free_bytes" not in found


async def test_one_answer_serves_all_who_ask_within_a_second(tmp_path: Path) -> None:
    line, bay = Line(), (TOPICS.site, TOPICS.bay)
    told(line)
    async with site(tmp_path, line) as made, made.browser() as browser:
        feed = made.world.feed
        hand = clocked(feed)
        await settled(lambda: any(one.health is not None for one in feed.bays.values()))
        assert (await scraped(browser))["ringtrue_disk_free_bytes"] == {bay: 1e9}
        other = HEALTH.model_copy(update={"disk_free_bytes": 5})
        line.publish(TOPICS.health, health_payload(other))
        await settled(lambda: [one.health for one in feed.bays.values()] == [other])
        hand[0] += 0.9
        assert (await scraped(browser))["ringtrue_disk_free_bytes"] == {bay: 1e9}
        hand[0] += 0.2
        assert (await scraped(browser))["ringtrue_disk_free_bytes"] == {bay: 5}


@pytest.mark.parametrize(
    "wrong",
    [
        {"readings_sent": 10**400},
        {"connects": -1},
        {"up_s": float("nan")},
        {"gauges": {"g": GAUGE.model_copy(update={"frames": 10**400})}},
        {"gauges": {f"g-{number}": GAUGE for number in range(1000)}},
    ],
    ids=["huge", "negative", "no number", "huge of a gauge", "no end of gauges"],
)
async def test_one_bays_nonsense_takes_no_other_from_the_list(tmp_path: Path, wrong: dict[str, Any]) -> None:
    line = Line()
    nonsense = HEALTH.model_copy(update=wrong).model_dump_json().encode()
    line.publish(Topics(TOPICS.site, "bay-9").health, nonsense, retain=True)
    line.publish(TOPICS.status, status_payload("online"), retain=True)
    line.publish(TOPICS.health, health_payload(HEALTH), retain=True)
    async with site(tmp_path, line) as made, made.browser() as browser:
        await settled(lambda: any(bay.health is not None for bay in made.world.feed.bays.values()))
        found = await scraped(browser)
    assert found["ringtrue_disk_free_bytes"] == {(TOPICS.site, TOPICS.bay): 1e9}
