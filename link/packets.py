"""Messages at QoS 0 as they go over the wire, to be written many at once.

PUBLISH (OASIS MQTT 3.1.1, 3.3; MQTT 5, 3.3), its length written in sevens of bits (2.2.3; 1.5.5):

    byte   0     1 …        then
           30    remaining  topic length (2), topic, [MQTT 5: properties, none: 0], payload
           31    the same, retained
"""

from __future__ import annotations

from functools import lru_cache

TOPIC_MAX_BYTES = 0xFFFF
REMAINING_MAX_BYTES = 0x0FFF_FFFF


def publish_packet(topic: str, payload: bytes, protocol: int, *, retain: bool = False) -> bytes:
    """One message at QoS 0. protocol: 5 or 4 (3.1.1). ValueError where it is too long for any broker."""
    head = _head(topic, protocol)
    left = len(head) + len(payload)
    if left < 128:
        size = bytes((left,))
    elif left <= REMAINING_MAX_BYTES:
        size = _sevens(left)
    else:
        raise ValueError(f"{len(payload)} bytes under {topic} are too many for one message")
    return (b"\x31" if retain else b"\x30") + size + head + payload


@lru_cache(maxsize=256)
def _head(topic: str, protocol: int) -> bytes:
    """What stands before the payload: of few topics many messages are sent."""
    name = topic.encode()
    if not name or len(name) > TOPIC_MAX_BYTES or not {*"+#\0"}.isdisjoint(topic):
        raise ValueError(f"{topic!r} is no topic to publish under")
    return len(name).to_bytes(2, "big") + name + (b"\0" if protocol == 5 else b"")


def _sevens(number: int) -> bytes:
    digits = []
    while number >= 128:
        digits.append(number % 128 | 128)
        number //= 128
    return bytes((*digits, number))
