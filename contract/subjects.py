"""A bay's topics as a cluster of NATS servers names them: its subjects, and back.

Source: the MQTT chapter of that server's documentation, "Topic to subject conversion": `/` is `.`, `.` is
`//`, and an empty level is `/`. No space can cross. `*` and `>` cross as they stand, but mean others where a
subject is a filter: a bridge takes names without them (`config.bridge`).
"""

from __future__ import annotations

KEPT_PREFIX = "$MQTT.msgs."
"""Before the subject of a message at QoS 1, as the cluster keeps it."""


def subject_of(topic: str) -> str:
    """What a topic is called there."""
    return ".".join(level.replace(".", "//") or "/" for level in topic.split("/"))


def topic_of(subject: str) -> str:
    """The topic that is so called, with or without `KEPT_PREFIX`."""
    parts = subject.removeprefix(KEPT_PREFIX).split(".")
    return "/".join("" if part == "/" else part.replace("//", ".") for part in parts)
