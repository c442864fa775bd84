"""Histories that a display keeps between two looks at the records."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from contract.document import encode
from records.order import Order
from ringtrue.history_told import looked_told
from ringtrue.pasts import Memory, Pasts
from tests.grading.services import rim, service

DAY = datetime(2026, 3, 2, 6, tzinfo=UTC)


def test_a_history_is_made_anew_where_the_order_of_its_inspections_is_another() -> None:
    """A bay's chain that arrives later: its clock was wrong when the second was opened."""
    documents = [
        encode(service("i-1", "2026-03-02", hours_h=10, rim=rim(0.1))),
        encode(service("i-2", "2026-03-01", due=False, rim=rim(0.4, "over"))),
    ]
    memory: Memory = {}

    def verdict(order: Order) -> str | None:
        history = Pasts(documents, memory, order, {}).history("GQ-D-0815")
        return None if history is None else history.verdict

    assert verdict(Order({}, {})) == "keep"
    chained = Order({"bay-2": [("i-1", DAY), ("i-2", DAY - timedelta(days=1))]}, {})
    assert verdict(chained) == "replace"
    assert verdict(Order({}, {})) == "keep"


def test_a_list_of_inspections_tells_one_that_was_closed_and_given_up_then() -> None:
    """The page says of it that what it found stands; one that was given up while open found nothing."""
    gone = service("i-3", "2026-03-03", due=False, state="abandoned", rim=rim(0.4, "over"))
    closed = gone.model_copy(update={"closed": "2026-03-03T07:00:00.000Z"})
    assert looked_told(gone, (), {}).closed is None
    assert looked_told(closed, (), {}).closed == "2026-03-03T07:00:00.000Z"
