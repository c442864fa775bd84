from __future__ import annotations

import pytest

from config.method import ItemRule
from contract.item import Item
from grading.evidence import Observed
from grading.observed.visual import judge_observed
from tests.grading.samples import EXAMPLE, observed

VISUAL = EXAMPLE.observed["visual"]
PENETRANT = EXAMPLE.observed["penetrant"]


def test_all_seen_and_good() -> None:
    check = judge_observed([observed("visual")], VISUAL)
    assert (check.outcome, check.reason) == ("good", "all 8 items seen and good")


def test_one_item_is_no_items() -> None:
    check = judge_observed([Observed((Item("rim", "good"),))], None)
    assert check.reason == "all 1 item seen and good"


def test_one_bad_item_condemns_and_is_named_with_its_note() -> None:
    items = (*observed("visual").items, Item("leak", "bad", "wet below the joint"))
    check = judge_observed([Observed(items)], VISUAL)
    assert (check.outcome, check.reason) == ("bad", "found bad: leak (wet below the joint)")


def test_what_was_not_seen_is_missing_and_named() -> None:
    check = judge_observed([observed("visual", paint="not seen")], VISUAL)
    assert (check.outcome, check.reason) == ("missing", "not looked at yet: paint")
    assert judge_observed([], VISUAL).outcome == "missing"


def test_a_check_may_be_recorded_piece_by_piece() -> None:
    pieces = [Observed((item,)) for item in observed("visual").items]
    assert judge_observed(pieces[:-1], VISUAL).outcome == "missing"
    assert judge_observed(pieces, VISUAL).outcome == "good"


def test_an_item_counts_as_last_seen_and_says_that_it_was_bad() -> None:
    again = judge_observed([observed("visual", leak="bad"), observed("visual")], VISUAL)
    assert again.outcome == "good"
    assert again.warnings == ("leak was bad in an earlier pass and is good now",)


def test_not_seen_takes_nothing_back() -> None:
    assert (
        judge_observed([observed("visual", leak="bad"), observed("visual", leak="not seen")], VISUAL).outcome
        == "bad"
    )
    assert judge_observed([observed("visual"), observed("visual", leak="not seen")], VISUAL).outcome == "good"


def test_a_condition_not_kept_makes_the_check_invalid_until_all_of_it_is_done_again() -> None:
    short = observed("penetrant", developer_dwell="bad")
    check = judge_observed([short], PENETRANT)
    assert check.outcome == "invalid"
    assert "developer-dwell" in check.reason
    only_the_dwell = Observed((Item("developer-dwell", "good", time_min=10.0),))
    assert judge_observed([short, only_the_dwell], PENETRANT).outcome == "missing"
    assert judge_observed([short, observed("penetrant")], PENETRANT).outcome == "good"


def test_what_was_looked_for_while_a_condition_was_amiss_was_not_seen() -> None:
    wet = observed("visual", oil="bad")
    rest = [Observed((item,)) for item in observed("visual").items if item.item != "oil"]
    wiped = Observed((Item("oil", "good"),))
    check = judge_observed([wet, *rest], VISUAL)
    assert (check.outcome, check.reason) == (
        "invalid",
        "not done as the method asks: oil; do the whole check again",
    )
    assert judge_observed([wet, *rest, wiped], VISUAL).outcome == "missing"
    assert judge_observed([wet, *rest, wiped, *rest], VISUAL).outcome == "good"


def test_a_condition_listed_late_keeps_none_from_being_done_in_order() -> None:
    loose = observed("visual", bolts="bad")
    pieces = [Observed((item,)) for item in observed("visual").items]
    assert judge_observed([loose, *pieces[:-2]], VISUAL).outcome == "invalid"
    assert judge_observed([loose, *pieces], VISUAL).outcome == "good"


def test_a_leak_found_while_a_condition_was_amiss_is_a_leak() -> None:
    leak = Observed((Item("leak", "bad"),))
    assert judge_observed([observed("visual", oil="bad"), leak], VISUAL).outcome == "bad"


def test_a_crack_seen_through_a_short_dwell_is_a_crack() -> None:
    check = judge_observed([observed("penetrant", developer_dwell="bad", rim="bad")], PENETRANT)
    assert (check.outcome, check.reason) == ("bad", "found bad: rim")


def test_an_item_that_the_method_does_not_list_condemns_if_bad() -> None:
    extra = Observed((*observed("visual").items, Item("smell", "bad")))
    assert judge_observed([extra], VISUAL).outcome == "bad"
    assert judge_observed([Observed((Item("smell", "good"),))], VISUAL).outcome == "missing"


def test_a_check_the_method_says_nothing_of_goes_by_what_was_seen() -> None:
    assert judge_observed([Observed((Item("rim", "good"),))], None).outcome == "good"
    assert judge_observed([Observed((Item("rim", "not seen"),))], None).outcome != "good"


def test_the_worst_of_one_item_recorded_twice_in_a_pass_counts() -> None:
    """Journals of before hold such passes: the order within one says nothing."""
    leak = Item("leak", "bad", "wet below the joint")
    assert judge_observed([Observed((leak, *observed("visual").items))], VISUAL).outcome == "bad"
    short = Item("penetrant-dwell", "good", time_min=4.0)
    assert judge_observed([Observed((short, *observed("penetrant").items))], PENETRANT).outcome == "invalid"


@pytest.mark.parametrize(
    ("temperature_c", "time_min", "why"),
    [
        (20.0, 60.0, "temperature (20 °C, at least 60 °C is asked for)"),
        (93.5, 60.0, "temperature (93.5 °C, at most 93 °C is allowed)"),
        (90.0, 0.0, "soak (0 min is no time)"),
        (90.0, 29.9, "soak (29.9 min, at least 30 min is asked for)"),
        (60.0, 30.0, None),
        (93.0, 600.0, None),
    ],
)
def test_a_warm_leak_test_that_was_not_warm_or_not_long_is_none(
    temperature_c: float, time_min: float, why: str | None
) -> None:
    said = Item("temperature", "good", temperature_c=temperature_c), Item("soak", "good", time_min=time_min)
    rest = observed("warm-leak").items[2:]
    check = judge_observed([Observed(rest), Observed(said)], EXAMPLE.observed["warm-leak"])
    assert check.outcome == ("good" if why is None else "invalid")
    assert why is None or why in check.reason


def test_no_time_at_all_is_no_dwell_whatever_the_bounds() -> None:
    free = ItemRule(id="soak", text="Soaked", figure="time_min")
    assert free.amiss(0.0) == "0 min is no time"
    assert free.amiss(0.1) is None


def test_a_crack_is_not_taken_back_by_a_look_through_a_short_dwell() -> None:
    cracked, short = observed("penetrant", rim="bad"), observed("penetrant", developer_dwell="bad")
    check = judge_observed([cracked, short], PENETRANT)
    assert (check.outcome, check.reason, check.warnings) == ("bad", "found bad: rim", ())
