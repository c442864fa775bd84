"""What the pages are told of every bay: only what changed, the newest value, and nothing that is none."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contract.document import encode
from contract.live import BesidePart, Live, live_payload
from contract.methods import MethodMessage, MethodNamed, method_payload
from contract.result import Result
from contract.states import GaugeStateMessage, gauge_state_payload, status_payload
from contract.topics import Topics
from display.web.feed import BAYS_MAX, GAUGES_MAX, OFFLINE, UNSAID, Feed, Watcher
from display.web.for_all import for_all
from link.address import BrokerAddress
from link.errors import BrokerError
from link.tasks import end
from tests.display.site import BAY, TOPICS, settled
from tests.ringtrue.inspecting.line import ADDRESS, Line

SIGNED = Result.model_validate(
    {
        "inspection": "truck-14", "revision": 3, "state": "signed", "site": "greywacke", "bay": "bay-2",
        "scope": "on-engine", "engine": {"serial": "GQ-E-2207"}, "damper": {"serial": "GQ-D-0815"},
        "work_order": "order of Q. Sample", "opened": "2026-03-02T06:00:00Z",
        "closed": "2026-03-02T07:00:00Z", "signed": "2026-03-02T07:10:00Z", "signed_by": "R. Example",
        "decision": "replace", "remark": "R. Example does not trust it",
        "corrections": [{"by": "R. Example", "why": "misread", "when": "2026-03-03T07:00:00Z"}],
        "method": {"id": "example", "version": "1", "sha256": "0"},
        "checks": {
            "visual": {
                "outcome": "good", "reason": "seen and good",
                "items": [{"item": "rim", "seen": "good", "text": "no crack", "note": "R. Example looked",
                           "photos": [{"file": "0.jpg", "note": "by R. Example"}]}],
            },
            "rim": {"outcome": "over", "reason": "over the limit", "limit_mm": 0.28, "true_tir_mm": 0.31},
        },
        "verdict": "replace", "reasons": ["rim: over the limit"], "software": "test", "readings_sha256": "0",
    }
)  # fmt: skip


def feed() -> Feed:
    return Feed(lambda: ADDRESS)


def sweeping(angle_deg: float, readings: int, check: str = "rim", value_mm: float = 0.1) -> Live:
    return Live(inspection="truck-14", check=check, angle_deg=angle_deg, value_mm=value_mm, readings=readings)


def hear_live(to: Feed, live: Live | None, topics: Topics = TOPICS) -> None:
    to.hear(topics.live, live_payload(live))


def test_a_page_that_comes_is_told_all_there_is_and_then_only_what_changes() -> None:
    heard = feed()
    heard.hear(TOPICS.status, status_payload("online", ["disk nearly full"]))
    heard.hear(TOPICS.result, encode(SIGNED))
    with heard.watch() as page:
        broker, patches = page.take()
        assert broker == ["connecting"]
        told = {"away", "status", "gauges", "live", "result", "method", "trace", "second"}
        assert set(patches[BAY]) == told
        assert patches[BAY]["status"]["warnings"] == ["disk nearly full"]
        assert patches[BAY]["result"]["signed_by"] == "R. Example"
        hear_live(heard, Live(inspection="truck-14"))
        _, patches = page.take()
        assert set(patches[BAY]) == {"live"}
        heard.hear(TOPICS.status, status_payload("offline"))
        _, patches = page.take()
        assert set(patches[BAY]) == {"away", "status"}
        assert patches[BAY]["away"] == OFFLINE
        assert page.take() == ([], {})


def test_a_slow_page_gets_one_patch_of_the_newest_values() -> None:
    heard = feed()
    with heard.watch() as page:
        page.take()
        for number in range(500):
            hear_live(heard, sweeping(number % 360, number))
        _, patches = page.take()
    assert list(patches) == [BAY]
    assert patches[BAY]["live"]["readings"] == 499


def test_each_bay_of_a_broker_up_to_a_number_and_a_page_may_ask_for_one() -> None:
    heard = feed()
    with heard.watch() as every, heard.watch("quarry/bay-7") as one:
        for number in range(BAYS_MAX + 5):
            hear_live(heard, Live(readings=number), Topics("quarry", f"bay-{number}"))
        assert len(every.take()[1]) == BAYS_MAX
        assert one.take()[1]["quarry/bay-7"]["live"]["readings"] == 7
    with heard.watch("quarry/bay-7") as again:
        assert list(again.take()[1]) == ["quarry/bay-7"]


@pytest.mark.parametrize(
    ("topic", "payload"),
    [
        (TOPICS.live, b"garbage"), (TOPICS.live, b"\xff\xfe"), (TOPICS.live, b"[]"),
        (TOPICS.live, b'{"value_mm": NaN}'), (TOPICS.live, b'{"angle_deg": 1e999, "check": "rim"}'),
        (TOPICS.status, b'{"state": "resting"}'), (TOPICS.result, b'{"schema": "ringtrue/result/9"}'),
        (TOPICS.result, b"[" * 100_000), (TOPICS.gauge_state("indicator-1"), b"{}"),
        (TOPICS.gauge_reading("indicator-1"), b'{"seq": 1, "t_ns": 1}'), ("ringtrue/1/alone", b"{}"),
        (TOPICS.root, b"{}"), ("elsewhere", b"1"),
    ],
)  # fmt: skip
def test_what_is_none_of_a_bays_is_passed_over_and_takes_no_bays_place(topic: str, payload: bytes) -> None:
    heard = feed()
    with heard.watch() as page:
        page.take()
        heard.hear(topic, payload)
        assert page.take() == ([], {})
    with heard.watch() as later:
        assert later.take()[1] == {}


def test_a_message_of_a_newer_daemon_is_read_as_far_as_it_is_known() -> None:
    heard = feed()
    heard.hear(TOPICS.live, b'{"inspection": "truck-14", "humidity": 0.4, "places": []}')
    heard.hear(TOPICS.result, json.dumps(json.loads(encode(SIGNED)) | {"humidity": 0.4}).encode())
    with heard.watch() as page:
        patch = page.take()[1][BAY]
    assert patch["live"]["inspection"] == "truck-14"
    assert "humidity" not in patch["live"]
    assert "humidity" not in patch["result"]


def test_gauges_are_told_whole_and_are_bounded() -> None:
    heard = feed()
    said = gauge_state_payload(
        GaugeStateMessage(state="connected", reason="reading", since="2026-03-02T06:00:00Z")
    )
    for number in range(GAUGES_MAX + 5):
        heard.hear(TOPICS.gauge_state(f"indicator-{number}"), said)
    with heard.watch() as page:
        assert len(page.take()[1][BAY]["gauges"]) == GAUGES_MAX


def test_the_trace_is_by_degree_and_is_told_when_a_sweep_begins() -> None:
    heard = feed()
    with heard.watch() as page:
        page.take()
        hear_live(heard, sweeping(10.7, 1, value_mm=0.25))
        begun = page.take()[1][BAY]["trace"]
        assert (begun["check"], begun["bins"][10], begun["bins"].count(None)) == ("rim", 0.25, 359)
        hear_live(heard, sweeping(11.2, 2))
        assert "trace" not in page.take()[1][BAY]
    with heard.watch() as later:
        assert later.take()[1][BAY]["trace"]["bins"][10:12] == [0.25, 0.1]


def test_what_runs_beside_has_a_trace_of_its_own() -> None:
    """A second gauge of the face stands half a turn on."""
    heard = feed()
    beside = BesidePart(check="face", gauge="second", value_mm=0.4, readings=1)
    with heard.watch() as page:
        page.take()
        hear_live(heard, sweeping(10.7, 1).model_copy(update={"beside": (beside,)}))
        begun = page.take()[1][BAY]["second"]
        assert (begun["check"], begun["bins"][10], begun["bins"].count(None)) == ("face", 0.4, 359)
        again = beside.model_copy(update={"readings": 2, "value_mm": 0.5})
        hear_live(heard, sweeping(11.2, 2).model_copy(update={"beside": (again,)}))
        assert "second" not in page.take()[1][BAY]
        hear_live(heard, sweeping(12.2, 3))
        opposite = beside.model_copy(update={"opposite": True})
        hear_live(heard, sweeping(200.0, 4).model_copy(update={"beside": (opposite,)}))
        assert page.take()[1][BAY]["second"]["bins"][20] == 0.4


@pytest.mark.parametrize(
    "between",
    [
        [None],  # nothing ran meanwhile
        [sweeping(10, 5, check="face")],
        [sweeping(10, 1)],  # fewer readings than before: what ended between was not heard
    ],
)
def test_a_new_sweep_clears_the_trace(between: list[Live | None]) -> None:
    heard = feed()
    for angle in range(5):
        hear_live(heard, sweeping(angle, angle + 1))
    for live in between:
        hear_live(heard, live)
    hear_live(heard, sweeping(200, 6))
    with heard.watch() as page:
        bins = page.take()[1][BAY]["trace"]["bins"]
    assert bins[:5] == [None] * 5
    assert bins[200] == 0.1


def test_no_reading_yet_is_no_sweep_begun_again_and_again() -> None:
    heard = feed()
    with heard.watch() as page:
        for _ in range(2):
            hear_live(heard, sweeping(3, 0))
        assert "trace" in page.take()[1][BAY]
        hear_live(heard, sweeping(3, 0))
        assert "trace" not in page.take()[1][BAY]


def test_what_nobody_sweeps_leaves_the_last_trace() -> None:
    heard = feed()
    hear_live(heard, sweeping(10, 1))
    for live in (Live(check="thickness"), None):
        hear_live(heard, live)
    with heard.watch() as page:
        assert page.take()[1][BAY]["trace"]["bins"][10] == 0.1


KEYS = st.sampled_from(["away", "status", "gauges", "live", "result", "trace"])
PATCHES = st.lists(
    st.tuples(st.sampled_from(["a/1", "a/2", "b/1"]), st.dictionaries(KEYS, st.integers(), min_size=1)),
    max_size=30,
)


@pytest.mark.slow
@given(PATCHES, st.sets(st.integers(0, 30)))
def test_all_patches_in_any_grouping_give_the_whole(
    told: list[tuple[str, dict[str, int]]], taken_after: set[int]
) -> None:
    whole: dict[str, dict[str, Any]] = {}
    page, seen = Watcher(), dict[str, dict[str, Any]]()
    for number, (bay, patch) in enumerate(told):
        whole.setdefault(bay, {}).update(patch)
        page.tell(bay, dict(patch))
        if number in taken_after:
            for name, some in page.take()[1].items():
                seen.setdefault(name, {}).update(some)
    for name, some in page.take()[1].items():
        seen.setdefault(name, {}).update(some)
    assert seen == whole


async def test_the_broker_goes_and_comes_and_a_sweep_meanwhile_is_not_drawn_into_the_one_before() -> None:
    line = Line()
    line.publish(TOPICS.live, live_payload(sweeping(10, 5)), retain=True)
    heard = Feed(lambda: ADDRESS, connect=line.connect)
    running = asyncio.ensure_future(heard.run())
    try:
        with heard.watch() as page:
            await settled(lambda: heard.away is None)
            await settled(lambda: BAY in page._patches)
            page.take()
            line.cut()
            await settled(lambda: heard.away is not None)
            (away,) = page.take()[0]
            assert "broker" in str(away)
            line.publish(TOPICS.live, live_payload(sweeping(200, 9)), retain=True)
            line.is_up = True
            await settled(lambda: heard.away is None)
            await settled(lambda: BAY in page._patches)
            broker, patches = page.take()
            assert broker == [None]  # the newest alone
            assert patches[BAY]["trace"]["bins"][10] is None
            assert patches[BAY]["trace"]["bins"][200] == 0.1
        assert heard.pages == 0
    finally:
        await end(running)


async def test_a_broker_that_comes_back_without_a_bay_shows_nothing_of_it_as_live() -> None:
    line = Line()
    line.publish(TOPICS.status, status_payload("online"), retain=True)
    line.publish(TOPICS.live, live_payload(sweeping(10, 5)), retain=True)
    line.publish(TOPICS.result, encode(SIGNED), retain=True)
    heard = Feed(lambda: ADDRESS, connect=line.connect)
    running = asyncio.ensure_future(heard.run())
    try:
        with heard.watch() as page:
            await settled(lambda: BAY in heard._bays and heard._bays[BAY].result is not None)
            assert page.take()[1][BAY]["away"] is None
            line.cut()
            await settled(lambda: heard.away is not None)
            line.retained.clear()
            line.is_up = True
            await settled(lambda: heard.away is None)
            patch = page.take()[1][BAY]
            assert (patch["away"], patch["live"], patch["status"]) == (UNSAID, None, None)
            with heard.watch() as later:
                assert later.take()[1][BAY]["away"] == UNSAID
            line.publish(TOPICS.status, status_payload("online"))
            await settled(lambda: BAY in page._patches)
            assert page.take()[1][BAY]["away"] is None
    finally:
        await end(running)


def test_a_bay_of_which_only_old_figures_are_kept_is_not_there() -> None:
    heard = feed()
    hear_live(heard, sweeping(10, 1))
    with heard.watch() as page:
        assert page.take()[1][BAY]["away"] == UNSAID


METHOD = MethodNamed(id="quarry", version="3", sha256="0" * 64, number=3)


@pytest.mark.parametrize("taken", [b"", b"garbage", b"[]"])
def test_what_is_taken_back_or_followed_by_what_cannot_be_read_is_so_no_longer(taken: bytes) -> None:
    heard = feed()
    state = gauge_state_payload(
        GaugeStateMessage(state="connected", reason="reading", since="2026-03-02T06:00:00Z")
    )
    kept = {
        TOPICS.status: status_payload("online"),
        TOPICS.gauge_state("indicator-1"): state,
        TOPICS.result: encode(SIGNED),
        TOPICS.live: live_payload(sweeping(10, 1)),
        TOPICS.method: method_payload(MethodMessage(in_force=METHOD)),
    }
    for topic, payload in kept.items():
        heard.hear(topic, payload)
    with heard.watch() as page:
        page.take()
        for topic in (*kept, *kept, "ringtrue/quarry/bay-9/live"):
            heard.hear(topic, taken)
        patches = page.take()[1]
    gone = dict.fromkeys(("status", "result", "live", "method"))
    assert patches == {BAY: {**gone, "away": UNSAID, "gauges": {}}}


async def test_a_broker_that_is_not_there_yet_is_waited_for() -> None:
    line, is_there = Line(), False

    def address() -> BrokerAddress:
        if not is_there:
            raise BrokerError("no broker runs for this bay: start `ringtrue run`")
        return ADDRESS

    heard = Feed(address, connect=line.connect)
    running = asyncio.ensure_future(heard.run())
    try:
        await settled(lambda: "start `ringtrue run`" in str(heard.away))
        is_there = True
        await settled(lambda: heard.away is None)
    finally:
        await end(running)


def test_what_is_shown_to_all_names_nobody() -> None:
    heard = feed()
    heard.hear(TOPICS.result, encode(SIGNED))
    with heard.watch(None, for_all) as wall, heard.watch() as bench:
        said = json.dumps(wall.take()[1])
        whole = json.dumps(bench.take()[1])
        for word in ("R. Example", "Q. Sample", "work_order", "signed_by", "remark", "corrections", "note"):
            assert word in whole
            assert word not in said
        heard.hear(TOPICS.result, encode(SIGNED))
        assert "R. Example" not in json.dumps(wall.take()[1])
    for word in ("GQ-D-0815", "replace", "rim: over the limit", "0.31", "over the limit", "no crack"):
        assert word in said
