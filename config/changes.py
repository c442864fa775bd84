"""What changed from one method to another, key by key, in the words of its model."""

from __future__ import annotations

import typing
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel

from config.meanings import meanings, unit_of
from config.method import Method

ITEMS = "item"
"""The list that a check by eye is made of. Entries of any list are known by their `id`, where they have one.
"""
SETS = ("required", "cautions")
"""Tables whose lists are compared as what is in them: what came and what went."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change. key: where, dotted. what: of a value, or of a table, an item or an entry that came or went.
    old, new: None where there is none. unit: of both, empty where they have none. meaning: of the key."""

    key: str
    what: Literal["changed", "added", "removed"]
    old: Any = None
    new: Any = None
    unit: str = ""
    meaning: str = ""


def changes_of(old: Method, new: Method) -> tuple[Change, ...]:
    """All of them, in the order of the file; a key left out counts as its default."""
    return tuple(_tables(Method, old.as_data(), new.as_data(), "", ""))


def _tables(
    model: type[BaseModel], old: dict[str, Any], new: dict[str, Any], at: str, above: str
) -> Iterator[Change]:
    """Of one table; above: what the table itself means, which its keys' meanings go on from."""
    said: dict[str, str] = {}
    for name, field in model.model_fields.items():
        key = field.alias or name
        was, now = old.get(key), new.get(key)
        if was == now:
            continue
        said = said or meanings(model)
        path = f"{at}.{key}" if at else key
        inner = _model_in(field.annotation)
        yield from _values(path, inner, was, now, unit_of(key), f"{above} {said[name]}".strip())


def _values(
    path: str, inner: type[BaseModel] | None, was: Any, now: Any, unit: str, meaning: str
) -> Iterator[Change]:
    if was == now:
        return
    if isinstance(was, list) and isinstance(now, list) and inner is not None and "id" in _keys(inner):
        yield from _items(path.removesuffix(f".{ITEMS}"), inner, was, now, meaning)
    elif isinstance(was, list) and isinstance(now, list) and path.split(".")[0] in SETS:
        yield from _entries(path, was, now, meaning)
    elif isinstance(was, dict) and isinstance(now, dict):
        if inner is not None and {*was, *now} <= _keys(inner):
            yield from _tables(inner, was, now, path, meaning)
        else:
            # A check that is described on one side only came or went item by item, a step line by line.
            none: Any = [] if inner is None else {ITEMS: []} if ITEMS in _keys(inner) else None
            for key in [*was, *(key for key in now if key not in was)]:
                here, there = was.get(key, none), now.get(key, none)
                yield from _values(f"{path}.{key}", inner, here, there, unit, meaning)
    elif was is None:
        yield Change(path, "added", None, now, unit, meaning)
    elif now is None:
        yield Change(path, "removed", was, None, unit, meaning)
    else:
        yield Change(path, "changed", was, now, unit, meaning)


def _items(
    path: str, model: type[BaseModel], was: Sequence[Any], now: Sequence[Any], meaning: str
) -> Iterator[Change]:
    before, after = ({item["id"]: item for item in items} for items in (was, now))
    for name, item in before.items():
        if name not in after:
            yield Change(f"{path}.{name}", "removed", item["text"], None, "", meaning)
        else:
            yield from _tables(model, item, after[name], f"{path}.{name}", "")
    for name, item in after.items():
        if name not in before:
            yield Change(f"{path}.{name}", "added", None, item["text"], "", meaning)
    if [name for name in before if name in after] != [name for name in after if name in before]:
        yield Change(path, "changed", ", ".join(before), ", ".join(after), "", f"{meaning} (their order)")


def _entries(path: str, was: Sequence[str], now: Sequence[str], meaning: str) -> Iterator[Change]:
    went, came = [one for one in was if one not in now], [one for one in now if one not in was]
    yield from (Change(path, "removed", one, None, "", meaning) for one in went)
    yield from (Change(path, "added", None, one, "", meaning) for one in came)
    if not went and not came:
        yield Change(path, "changed", "; ".join(was), "; ".join(now), "", f"{meaning} (their order)")


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """The model named in an annotation, however deep in lists and tables."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model_in(part) for part in typing.get_args(annotation))
    return next((one for one in found if one is not None), None)


def _keys(model: type[BaseModel]) -> set[str]:
    return {field.alias or name for name, field in model.model_fields.items()}
