"""Each result handed on once, in order, whatever the receiver answers."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import event

from grading.programme.order import contradicted
from records.errors import RecordsUnavailableError
from records.forwarding.deliveries import Deliveries
from records.forwarding.forwarder import Answer, Forwarder
from records.store import Store
from records.tables import RESULTS
from tests.parts.issuing import IssuingBay, put_on_record
from tests.parts.postgres import Postgres
from tests.records.test_records_store import document

URL = "https://shop.example/results"
NOW = datetime(2026, 11, 2, 12, 0, tzinfo=UTC)


class Shop:
    """A receiver: answers as it is told, then always well; what it took, by id."""

    def __init__(self, *answers: Answer) -> None:
        self._answers = list(answers)
        self.taken: list[str] = []
        self.events: list[bytes] = []

    async def post(self, event: bytes) -> Answer:
        answer = self._answers.pop(0) if self._answers else Answer(204, "")
        if answer.status is not None and answer.status < 300:
            self.taken.append(json.loads(event)["id"])
            self.events.append(event)
        return answer


@pytest.fixture
def url(tmp_path: Path) -> str:
    """Records of three results, two of them of one inspection."""
    url = f"sqlite:///{tmp_path}/records.db"
    put(url, ("GQ-1", 1), ("GQ-2", 1), ("GQ-1", 2))
    return url


@pytest.fixture
def deliveries(url: str) -> Iterator[Deliveries]:
    with closing(Deliveries(url, URL)) as made:
        yield made


def put(
    url: str, *results: tuple[str, int], start: datetime = NOW, step: timedelta = timedelta(hours=1)
) -> None:
    times = iter(start + number * step for number in range(100))
    with closing(Store(url, utc=lambda: next(times))) as store:
        for inspection, revision in results:
            store.put(document(inspection, revision))


def hand_on(deliveries: Deliveries, shop: Shop) -> Answer | None:
    return asyncio.run(Forwarder(deliveries, shop.post, lambda: NOW).hand_on())


def test_all_in_order_and_once(deliveries: Deliveries, url: str) -> None:
    shop = Shop()
    assert hand_on(deliveries, shop) is None
    assert shop.taken == ["GQ-1/1", "GQ-2/1", "GQ-1/2"]
    put(url, ("GQ-3", 1))
    assert hand_on(deliveries, shop) is None
    assert shop.taken[3:] == ["GQ-3/1"]
    standing = deliveries.standing()
    assert (standing.delivered, standing.waiting, standing.oldest) == (4, 0, None)


@pytest.mark.parametrize(
    "answer",
    [Answer(None, "connection refused"), Answer(500, "down"), Answer(401, "who?"), Answer(302, "elsewhere")],
)
def test_what_may_be_mended_holds_the_rest_back(deliveries: Deliveries, answer: Answer) -> None:
    shop = Shop(Answer(200, ""), answer)
    assert hand_on(deliveries, shop) == answer
    assert shop.taken == ["GQ-1/1"]
    assert deliveries.standing().waiting == 2
    assert hand_on(deliveries, shop) is None
    assert shop.taken == ["GQ-1/1", "GQ-2/1", "GQ-1/2"]


def test_what_is_refused_for_good_holds_nothing_back_and_is_told(deliveries: Deliveries) -> None:
    shop = Shop(Answer(422, "no such engine"))
    assert hand_on(deliveries, shop) is None
    assert shop.taken == ["GQ-2/1", "GQ-1/2"]
    assert deliveries.standing().refused == 1
    assert deliveries.again() == 1
    assert hand_on(deliveries, shop) is None
    assert shop.taken[2:] == ["GQ-1/1"]


def test_who_takes_only_what_is_new_gets_only_that(url: str) -> None:
    with closing(Deliveries(url, URL, NOW + timedelta(minutes=90))) as deliveries:
        shop = Shop()
        assert hand_on(deliveries, shop) is None
        assert shop.taken == ["GQ-1/2"]


def test_each_receiver_has_its_own(url: str, deliveries: Deliveries) -> None:
    hand_on(deliveries, Shop())
    with closing(Deliveries(url, "https://other.example/")) as other:
        assert other.standing().waiting == 3


CONTRADICTED = "A/contradicted"


def contradict(url: str, *, of: str = "A") -> None:
    """Two bays chose one name: the first that came is on record, the other nowhere but in the chain."""
    with closing(Store(url)) as store:
        for bay in (IssuingBay("bay-2"), IssuingBay("bay-3")):
            put_on_record(store, *bay.issue(of, verdict="keep" if bay.topics.bay == "bay-2" else "replace"))


def test_a_result_that_was_delivered_and_is_contradicted_since_is_told_once(
    url: str, deliveries: Deliveries
) -> None:
    shop = Shop()
    with closing(Store(url)) as store:
        put_on_record(store, *IssuingBay("bay-2").issue("A", verdict="keep"))
    assert hand_on(deliveries, shop) is None
    taken = len(shop.taken)
    contradict(url)
    assert deliveries.standing().waiting == 0
    down, refused = Shop(Answer(503, "later")), Shop(Answer(422, "what?"))
    assert hand_on(deliveries, down) == Answer(503, "later")
    assert hand_on(deliveries, refused) is None
    assert deliveries.standing().refused == 1
    assert deliveries.again() == 1
    put(url, ("GQ-3", 1), start=NOW + timedelta(days=9))
    assert hand_on(deliveries, shop) is None
    assert shop.taken[taken:] == ["GQ-3/1", CONTRADICTED], "results come first"
    assert hand_on(deliveries, shop) is None
    assert shop.taken.count(CONTRADICTED) == 1
    assert (deliveries.standing().delivered, deliveries.standing().refused) == (taken + 1, 0)


def test_of_what_a_receiver_never_had_it_is_told_no_contradiction(url: str, deliveries: Deliveries) -> None:
    contradict(url)
    shop = Shop(*[Answer(200, "")] * 3, Answer(422, "no such engine"))
    assert hand_on(deliveries, shop) is None
    assert deliveries.standing().refused == 1
    assert CONTRADICTED not in shop.taken
    deliveries.again()
    assert hand_on(deliveries, shop) is None
    assert shop.taken[-2:] == ["A/1", CONTRADICTED], "as soon as it has that result"
    assert json.loads(shop.events[-1])["data"] == {
        "schema": "ringtrue/contradicted/1",
        "inspection": "A",
        "bays": ["greywacke/bay-2", "greywacke/bay-3"],
        "why": contradicted("A", "greywacke/bay-2, greywacke/bay-3"),
    }


@given(st.permutations([("a", 1), ("a", 2), ("a", 3), ("b", 1), ("b", 2)]), st.booleans())
def test_revisions_come_in_their_order_whatever_the_clock_said(
    tmp_path_factory: pytest.TempPathFactory, results: list[tuple[str, int]], does_it_run_back: bool
) -> None:
    url = f"sqlite:///{tmp_path_factory.mktemp('records')}/records.db"
    put(url, *results, step=timedelta(hours=-1 if does_it_run_back else 1))
    with closing(Deliveries(url, URL)) as deliveries:
        shop = Shop()
        assert hand_on(deliveries, shop) is None
    for inspection, revisions in (("a", 3), ("b", 2)):
        assert [one for one in shop.taken if one.startswith(inspection)] == [
            f"{inspection}/{revision}" for revision in range(1, revisions + 1)
        ]


def test_it_goes_on_by_itself_after_an_outage(
    deliveries: Deliveries, monkeypatch: pytest.MonkeyPatch
) -> None:
    slept: list[float] = []

    async def sleep(seconds: float) -> None:
        slept.append(seconds)
        if not deliveries.standing().waiting:
            raise asyncio.CancelledError

    monkeypatch.setattr(asyncio, "sleep", sleep)
    down = [Answer(None, "connection refused")] * 3
    shop = Shop(*down, Answer(503, "later", after_s=90.0), Answer(429, "", after_s=1e9))
    with pytest.raises(asyncio.CancelledError):
        asyncio.run(Forwarder(deliveries, shop.post, lambda: NOW).run())
    assert slept == [1, 2, 4, 90, 3600, 2]
    assert len(shop.taken) == 3


def test_records_that_are_away_are_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "records.db").mkdir()  # none can be opened there
    with closing(Deliveries(f"sqlite:///{tmp_path}/records.db", URL)) as deliveries:
        with pytest.raises(RecordsUnavailableError):
            deliveries.first()
        (tmp_path / "records.db").rmdir()
        assert hand_on(deliveries, Shop()) is None


def test_on_a_full_disk_nothing_is_sent_twice_and_nothing_is_lost(url: str, deliveries: Deliveries) -> None:
    """SQLite's own limit of pages fails the same statements with the same SQLITE_FULL as a disk does."""
    with deliveries.connected() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()

    def fill(connection: Any, _: object) -> None:
        connection.execute(f"PRAGMA max_page_count={pages}")

    event.listen(deliveries._engine, "connect", fill)
    deliveries.close()
    shop = Shop(Answer(200, "filed " + "x" * 9_000), Answer(422, "no such engine " + "x" * 9_000))
    forwarder = Forwarder(deliveries, shop.post, lambda: NOW)
    for _ in range(3):
        with pytest.raises(RecordsUnavailableError, match="full"):
            asyncio.run(forwarder.hand_on())
    assert shop.taken == ["GQ-1/1"]
    event.remove(deliveries._engine, "connect", fill)
    deliveries.close()
    assert asyncio.run(forwarder.hand_on()) is None
    assert shop.taken == ["GQ-1/1", "GQ-1/2"]
    standing = deliveries.standing()
    assert (standing.delivered, standing.refused, standing.waiting) == (2, 1, 0)


@pytest.mark.slow
def test_from_postgresql_all_in_order_and_once_over_a_crash_of_the_server(postgres: Postgres) -> None:
    url = postgres.make()
    put(url, ("GQ-1", 1), ("GQ-2", 1), ("GQ-1", 2))
    with closing(Deliveries(url, URL)) as deliveries:
        shop = Shop(Answer(200, ""), Answer(503, "later"))
        forwarder = Forwarder(deliveries, shop.post, lambda: NOW)
        assert asyncio.run(forwarder.hand_on()) == Answer(503, "later")
        postgres.stop()
        try:
            with pytest.raises(RecordsUnavailableError):
                asyncio.run(forwarder.hand_on())
        finally:
            postgres.start()
        assert asyncio.run(forwarder.hand_on()) is None
        assert shop.taken == ["GQ-1/1", "GQ-2/1", "GQ-1/2"]
        standing = deliveries.standing()
        assert (standing.delivered, standing.waiting) == (3, 0)
        assert deliveries.again() == 0


@pytest.mark.parametrize("spoilt", [b"no JSON", b"[]", b'{"schema":"another"}', b"\xff\xfe"])
def test_a_record_that_is_none_is_set_aside_and_holds_nothing_back(
    url: str, deliveries: Deliveries, spoilt: bytes
) -> None:
    with deliveries.connected() as connection:
        first = RESULTS.c.inspection == "GQ-1", RESULTS.c.revision == 1
        connection.execute(RESULTS.update().where(*first).values(document=spoilt))
    shop = Shop()
    assert hand_on(deliveries, shop) is None
    assert shop.taken == ["GQ-2/1", "GQ-1/2"]
    assert (deliveries.standing().refused, deliveries.standing().waiting) == (1, 0)


def test_what_another_process_has_ended_is_ended(url: str, deliveries: Deliveries) -> None:
    one = deliveries.first()
    assert one is not None
    with closing(Deliveries(url, URL)) as other:
        other.end(one, "delivered", "200", NOW)
    deliveries.end(one, "refused", "409", NOW)
    standing = deliveries.standing()
    assert (standing.delivered, standing.refused, standing.waiting) == (1, 0, 2)
