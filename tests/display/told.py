"""A sentence of each pattern in told.json, with something for each of its names."""

from __future__ import annotations

from display.told import NAME, patterns

KINDS = {"told": "not measured yet", "word": "rim", "list": "rim, face", "list_and": "rim and the face"}


def samples() -> list[str]:
    """One of each."""
    return [NAME.sub(lambda name: _sample(name[1]), text) for text in patterns()]


def _sample(name: str) -> str:
    return KINDS.get(name) or next((s for kind, s in KINDS.items() if name.startswith(kind)), "7")
