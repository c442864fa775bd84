"""How a gauge's readings come, one module for each manner. A new one is a module and a row here."""

from __future__ import annotations

from collections.abc import Callable

from config.profile import FreeRunning, KeyPress, LineKey, Manner, Requested
from drivers.manners.base import MISSES_TO_SILENCE, Behaviour, Line
from drivers.manners.free_running import FreeRunningBehaviour
from drivers.manners.key_press import KeyPressBehaviour
from drivers.manners.line_key import LineKeyBehaviour
from drivers.manners.requested import RequestedBehaviour

__all__ = ["MISSES_TO_SILENCE", "Behaviour", "Line", "behaviour"]

_KINDS: dict[type, Callable[..., Behaviour]] = {
    FreeRunning: FreeRunningBehaviour,
    Requested: RequestedBehaviour,
    KeyPress: KeyPressBehaviour,
    LineKey: LineKeyBehaviour,
}


def behaviour(manner: Manner) -> Behaviour:
    """Its behaviour."""
    return _KINDS[type(manner)](manner)
