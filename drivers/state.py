"""The states of a port, and the one function that leads from each to the next.

absent ──found──▶ opening ──opened──▶ hunting ──reading──▶ live ◀──reading── silent
  ▲                  │                   │                  │                  ▲
  │◀─────failed──────┘                   └──────missed──────┴──────missed──────┘
  └──closed── lost ◀──────────────broke── (hunting, live, silent, opening)
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from contract.terms import PublicState
from drivers.reading import Reading


class PortState(StrEnum):
    """Where a port stands."""

    ABSENT = "absent"
    """Not there, or not to be opened; being looked for."""
    OPENING = "opening"
    HUNTING = "hunting"
    """Open; no good reading yet."""
    LIVE = "live"
    SILENT = "silent"
    """Open; readings have stopped. A silent gauge shows no number."""
    LOST = "lost"
    """It failed while open; being closed."""

    @property
    def told(self) -> PublicState:
        """In the word that everybody is told: topics, replies, and the log."""
        return _TOLD[self]


_TOLD: dict[PortState, PublicState] = {
    PortState.LIVE: "connected",
    PortState.HUNTING: "silent",
    PortState.SILENT: "silent",
    PortState.ABSENT: "absent",
    PortState.OPENING: "absent",
    PortState.LOST: "absent",
}


class PortEvent(StrEnum):
    """What can happen to a port."""

    FOUND = "found"
    FAILED = "failed"
    """It could not be opened."""
    OPENED = "opened"
    READY = "ready"
    """It is open, and its gauge owes no sign of life: one that sends at a key press."""
    READING = "reading"
    MISSED = "missed"
    """Three periods without a reading, or three requests without an answer."""
    BROKE = "broke"
    """Reading or writing failed, or the far side went away."""
    CLOSED = "closed"


_S, _E = PortState, PortEvent
_NEXT: dict[tuple[PortState, PortEvent], PortState] = {
    (_S.ABSENT, _E.FOUND): _S.OPENING,
    (_S.OPENING, _E.OPENED): _S.HUNTING,
    (_S.OPENING, _E.FAILED): _S.ABSENT,
    (_S.OPENING, _E.BROKE): _S.LOST,
    (_S.HUNTING, _E.READY): _S.LIVE,
    (_S.HUNTING, _E.READING): _S.LIVE,
    (_S.HUNTING, _E.MISSED): _S.SILENT,
    (_S.HUNTING, _E.BROKE): _S.LOST,
    (_S.LIVE, _E.MISSED): _S.SILENT,
    (_S.LIVE, _E.BROKE): _S.LOST,
    (_S.SILENT, _E.READING): _S.LIVE,
    (_S.SILENT, _E.BROKE): _S.LOST,
    (_S.LOST, _E.CLOSED): _S.ABSENT,
}


def next_state(state: PortState, event: PortEvent) -> PortState:
    """The state after `event`; an event that means nothing in `state` changes nothing.

    `closed` leads to absent from anywhere: a port without a descriptor is not open.
    """
    if event is PortEvent.CLOSED:
        return PortState.ABSENT
    return _NEXT.get((state, event), state)


@dataclass(frozen=True, slots=True)
class GaugeState:
    """How one instrument stands, for a person and for the state topic.

    reason: one plain sentence; why it is not live, or on which port it is.
    since_ns: monotonic, when this state began. last: the last reading ever, None if none yet;
    a gauge that is not live shows no number, so it is for the record only. warning: what is to be seen to
    while it reads all the same, empty where nothing is.
    """

    gauge: str
    state: PortState
    reason: str
    since_ns: int
    last: Reading | None
    warning: str = ""
