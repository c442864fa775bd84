"""Checks done by eye: what was seen, against the items of the method."""

from __future__ import annotations

from collections.abc import Sequence

from config.method import ItemRule, ObservedRules
from contract.result import ItemPart, ObservedCheck
from contract.words import count_of
from grading.evidence import Item, Observed


def judge_observed(attempts: Sequence[Observed], rules: ObservedRules | None) -> ObservedCheck:
    """One observed check from all its passes, oldest first.

    An item counts as last seen; `not seen` never takes back what was seen. A condition of the check
    that is bad (`if_bad = "invalid"`) voids the good findings up to then, never the bad ones: a crack
    seen through a short dwell is a crack. An item the method does not list stays on record, and
    condemns if it is bad.
    """
    by_id: dict[str, ItemRule] = {rule.id: rule for rule in rules.item} if rules else {}
    seen: dict[str, Item] = {}
    warnings: list[str] = []
    spoilt: list[str] = []
    for attempt in attempts:
        for item in attempt.items:
            before = seen.get(item.item)
            if before is not None and item.seen == "not seen":
                continue
            if before is not None and before.seen == "bad" and item.seen == "good":
                warnings.append(f"{item.item} was bad in an earlier pass and is good now")
            seen[item.item] = item
        now = [
            rule.id
            for rule in by_id.values()
            if rule.if_bad == "invalid" and rule.id in seen and seen[rule.id].seen == "bad"
        ]
        if now:
            seen = {k: v for k, v in seen.items() if v.seen == "bad" and k not in now}
        spoilt = now
    parts = tuple(
        ItemPart(item=name, seen=seen[name].seen if name in seen else "not seen", note=_note(seen.get(name)))
        for name in dict.fromkeys([*by_id, *seen])
        if name in seen or by_id[name].must_see
    )
    bad = [name for name, item in seen.items() if item.seen == "bad"]
    unseen = [
        r.id for r in by_id.values() if r.must_see and (r.id not in seen or seen[r.id].seen == "not seen")
    ]
    notes = tuple(dict.fromkeys(warnings))
    if bad:
        detail = "; ".join(_described(seen[name]) for name in bad)
        return ObservedCheck(outcome="bad", reason=f"found bad: {detail}", items=parts, warnings=notes)
    if spoilt:
        reason = f"not done as the method asks ({', '.join(spoilt)}); do the whole check again"
        return ObservedCheck(outcome="invalid", reason=reason, items=parts, warnings=notes)
    count = sum(item.seen == "good" and (name in by_id or not by_id) for name, item in seen.items())
    if unseen or not count:
        what = ", ".join(unseen) if len(unseen) < len(parts) else "anything"
        return ObservedCheck(outcome="missing", reason=_missing(what), items=parts, warnings=notes)
    return ObservedCheck(
        outcome="good", reason=f"all {count_of(count, 'item')} seen and good", items=parts, warnings=notes
    )


def _missing(what: str) -> str:
    return "not looked at yet" if what == "anything" else f"not looked at yet: {what}"


def _note(item: Item | None) -> str | None:
    return item.note if item is not None and item.note else None


def _described(item: Item) -> str:
    return f"{item.item} ({item.note})" if item.note else item.item
