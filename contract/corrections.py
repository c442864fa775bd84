"""What was written down wrong of a signed inspection and put right afterwards: by whom, why, and what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from contract.header import Header, Part


class Change(Part):
    """One key of the header (`engine.serial`), as it was and as it is now; without `was`: there was none."""

    key: str
    was: str | float | None = None
    now: str | float | None = None


class Correction(Part):
    """by: who stands by it. when: RFC 3339, UTC. what: the keys that changed; remark: what was added."""

    by: str
    why: str
    when: str
    what: tuple[Change, ...] = ()
    remark: str | None = None


def changes_between(before: Header, after: Header) -> tuple[Change, ...]:
    """The keys in which two headers differ."""
    was, now = (dict(_leaves(header.model_dump())) for header in (before, after))
    return tuple(Change(key=key, was=was[key], now=now[key]) for key in was if was[key] != now[key])


def in_words(correction: Correction) -> str:
    """By whom, why and what: `R. Example (misread the plate): engine.serial GQ-1 → GQ-2`."""
    what = [f"{change.key} {_said(change.was)} → {_said(change.now)}" for change in correction.what]
    what += [f"remark: {correction.remark}"] if correction.remark else []
    return f"{correction.by} ({correction.why}): {', '.join(what)}"


def _said(value: str | float | None) -> str:
    return "none" if value is None else f"{value:.12g}" if isinstance(value, float) else value


def _leaves(said: dict[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in said.items():
        if isinstance(value, dict):
            yield from _leaves(value, f"{path}{key}.")
        else:
            yield f"{path}{key}", value
