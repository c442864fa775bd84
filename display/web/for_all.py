"""What of a bay is shown to whoever passes by: figures, reasons and the verdict, and no person."""

from __future__ import annotations

from typing import Any

SHOWN = frozenset(
    {
        "schema", "inspection", "revision", "state", "site", "bay", "scope", "engine", "damper", "opened",
        "closed", "signed", "decision", "method", "checks", "verdict", "reasons", "next_due",
    }
)  # fmt: skip
"""Keys of a result; not who signed or put right, what they wrote, or for which order."""
OF_ITEM = frozenset({"item", "seen", "text", "time_min", "temperature_c"})
"""Keys of something looked at; not what was written or pictured of it."""


def for_all(patch: dict[str, Any]) -> dict[str, Any]:
    """A patch of a bay with so much of its result."""
    result = patch.get("result")
    return patch if result is None else patch | {"result": _shown(result)}


def _shown(result: dict[str, Any]) -> dict[str, Any]:
    kept = {key: value for key, value in result.items() if key in SHOWN}
    return kept | {"checks": {name: _check(check) for name, check in result["checks"].items()}}


def _check(check: dict[str, Any]) -> dict[str, Any]:
    if "items" not in check:
        return check
    items = [{key: value for key, value in item.items() if key in OF_ITEM} for item in check["items"]]
    return check | {"items": items}
