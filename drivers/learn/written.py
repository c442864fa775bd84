"""A profile as its file: what was learnt, with the frames that were heard as its proof."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from config.profile import GaugeProfile

_TABLES = ("port", "framing", "value", "manner", "latency")


def as_toml(profile: GaugeProfile, *comments: str) -> str:
    """The file's text, after these comments."""
    data = profile.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    data["value"]["unit"] = profile.value.unit.value
    if "scale" in data["value"]:
        data["value"]["scale"] = profile.value.scale
    lines = [*(f"# {line}" for comment in comments for line in comment.splitlines())]
    lines += [f"{key} = {_spelled(data[key])}" for key in ("schema", "id", "description")]
    for name in _TABLES:
        if data.get(name):
            lines += ["", *_table(name, data[name])]
    for proof in data["proof"]:
        lines += ["", "[[proof]]", *(f"{key} = {_spelled(value)}" for key, value in proof.items())]
    return "\n".join([*lines, ""])


def _table(name: str, table: Mapping[str, Any]) -> list[str]:
    inner = {key: value for key, value in table.items() if key == "check"}
    lines = [f"[{name}]", *(f"{key} = {_spelled(value)}" for key, value in table.items() if key not in inner)]
    for key, value in inner.items():
        lines += ["", *_table(f"{name}.{key}", value)]
    return lines


def _spelled(value: Any) -> str:
    """A value as TOML has it (v1.0.0); its text is JSON's, save for one letter."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_spelled(one)}" for key, one in value.items()) + " }"
    if isinstance(value, Sequence):
        return "[" + ", ".join(map(_spelled, value)) + "]"
    return f"{value:f}" if isinstance(value, Decimal) else repr(value)
