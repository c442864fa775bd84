"""The bay as an edge node of Sparkplug."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from config.section import Section


def _id(text: str) -> str:
    if not text or not text.isprintable() or set(text) & set("/+#") or len(text.encode()) > 100:
        raise ValueError("a short name without / + #")
    return text


Id = Annotated[str, AfterValidator(_id)]


class SparkplugSettings(Section):
    """The bay as an edge node of Sparkplug 3.0, on its own broker. With `group` the daemon starts it."""

    group: Id | None = None
    """The group that the node belongs to; left out: there is no node."""
    node: Id | None = None
    """The node's id; left out: the bay's name."""
