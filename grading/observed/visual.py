"""Checks done by eye: what was seen, against the items of the method."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, replace

from config.method import ItemRule, ObservedRules
from contract.item import Item, Photo
from contract.result import ItemPart, ObservedCheck, PhotoPart
from contract.words import count_of
from grading.evidence import Observed


def judge_observed(attempts: Sequence[Observed], rules: ObservedRules | None) -> ObservedCheck:
    """One observed check from all its passes, oldest first.

    An item counts as last seen, the worst where one pass has it twice; `not seen` never takes back what was
    seen. One whose figure is outside of the method's bounds is bad, whatever was said of it; one without a
    figure that is asked for was not seen. A condition of the check that is bad (`if_bad = "invalid"`) voids
    the good findings up to then, and of the items listed after it those until it is seen good, never the bad
    ones: a crack seen through a short dwell is a crack, and not to see it through one takes nothing back. An
    item the method does not list stays on record, and condemns if it is bad.
    """
    by_id: dict[str, ItemRule] = {rule.id: rule for rule in rules.item} if rules else {}
    conditions = [rule.id for rule in by_id.values() if rule.if_bad == "invalid"]
    seen: dict[str, Item] = {}
    warnings: list[str] = []
    faults: dict[str, Item] = {}
    for attempt in attempts:
        if not attempt.items:  # pictures alone
            continue
        now = _merged(_measured(said, by_id.get(said.item)) for said in attempt.items)
        spoilt = {name: now.pop(name) for name in conditions if name in now and now[name].seen == "bad"}
        faults = {name: one for name, one in faults.items() if name not in now or now[name].seen != "good"}
        faults |= spoilt
        if spoilt:
            seen = _bad(seen) | _bad(now)
            continue
        now = _not_after(faults, now, list(by_id))
        for name, item in now.items():
            before = seen.get(name)
            if before is not None and item.seen == "not seen":
                continue
            if before is not None and before.seen == "bad" and item.seen == "good":
                warnings.append(f"{name} was bad in an earlier pass and is good now")
            seen[name] = item
    photos = [photo for attempt in attempts for photo in attempt.photos]
    parts = tuple(
        _part(name, seen.get(name), by_id.get(name), [p for p in photos if p.item == name])
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
    if faults:
        why = ", ".join(map(_described, faults.values()))
        reason = f"not done as the method asks: {why}; do the whole check again"
        return ObservedCheck(outcome="invalid", reason=reason, items=parts, warnings=notes)
    count = sum(item.seen == "good" and (name in by_id or not by_id) for name, item in seen.items())
    if unseen or not count:
        what = ", ".join(unseen) if len(unseen) < len(parts) else "anything"
        return ObservedCheck(outcome="missing", reason=_missing(what), items=parts, warnings=notes)
    return ObservedCheck(
        outcome="good", reason=f"all {count_of(count, 'item')} seen and good", items=parts, warnings=notes
    )


def _merged(items: Iterable[Item]) -> dict[str, Item]:
    """Each item of one pass once: bad where it is bad anywhere in it, else as it was seen last."""
    merged: dict[str, Item] = {}
    for item in items:
        before = merged.get(item.item)
        if before is None or (before.seen != "bad" and item.seen != "not seen") or item.seen == "bad":
            merged[item.item] = item
    return merged


def _bad(items: Mapping[str, Item]) -> dict[str, Item]:
    return {name: item for name, item in items.items() if item.seen == "bad"}


def _not_after(faults: Collection[str], items: Mapping[str, Item], order: Sequence[str]) -> dict[str, Item]:
    """The items without the good ones that are listed after a condition which is still amiss."""
    until = min((order.index(name) for name in faults), default=len(order))
    late = order[until:]
    return {name: item for name, item in items.items() if item.seen == "bad" or name not in late}


def _missing(what: str) -> str:
    return "not looked at yet" if what == "anything" else f"not looked at yet: {what}"


def _measured(item: Item, rule: ItemRule | None) -> Item:
    """The item as its figure leaves it."""
    if rule is None or rule.figure is None or item.seen == "not seen":
        return item
    figure = getattr(item, rule.figure)
    if figure is None:
        return item if item.seen == "bad" else replace(item, seen="not seen")
    amiss = rule.amiss(figure)
    if amiss is None:
        return item
    return replace(item, seen="bad", note="; ".join(filter(None, (amiss, item.note))))


def _part(name: str, item: Item | None, rule: ItemRule | None, photos: Sequence[Photo]) -> ItemPart:
    said = asdict(item or Item(name, "not seen"))
    shown = tuple(PhotoPart(file=photo.file, note=photo.note or None) for photo in photos)
    said |= {"note": said["note"] or None, "photos": shown or None}
    return ItemPart(**said, text=rule.text if rule is not None else None)


def _described(item: Item) -> str:
    return f"{item.item} ({item.note})" if item.note else item.item
