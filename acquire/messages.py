"""What the daemon says on MQTT: topics and payloads, as other programs may rely on them.

Everything lies below `ringtrue/1/<site>/<bay>`. Payloads are JSON objects in UTF-8; keys may be added
at any time. Lengths end in `_mm`, angles in `_deg`; times are RFC 3339 UTC, `t_ns` is monotonic.
Plunger in is positive.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Literal

from acquire.clock import rfc3339
from drivers.reading import NM_PER_MM, UDEG_PER_DEG, Reading, Unit

TOPIC_ROOT = "ringtrue/1"
"""The 1 is the version of everything below it."""

PublicState = Literal["connected", "silent", "absent"]


@dataclass(frozen=True, slots=True)
class Topics:
    """The topics of one bay."""

    site: str
    bay: str

    @property
    def root(self) -> str:
        """The level that all others lie below."""
        return f"{TOPIC_ROOT}/{self.site}/{self.bay}"

    @property
    def status(self) -> str:
        """Retained, QoS 1: `{"state":"online"}`; the last will says `offline`."""
        return f"{self.root}/status"

    @property
    def live(self) -> str:
        """Retained, QoS 0: `Live`, at most 20 a second."""
        return f"{self.root}/live"

    @property
    def result(self) -> str:
        """Retained, QoS 1: the result document of the current or latest inspection."""
        return f"{self.root}/result"

    @property
    def commands(self) -> str:
        """The filter that matches every command."""
        return f"{self.root}/command/+"

    def gauge_state(self, gauge: str) -> str:
        """Retained, QoS 1: `gauge_state_payload`."""
        return f"{self.root}/gauge/{gauge}/state"

    def gauge_reading(self, gauge: str) -> str:
        """QoS 0: `reading_payload`, each reading."""
        return f"{self.root}/gauge/{gauge}/reading"

    def event(self, inspection: str) -> str:
        """QoS 1: each event as it is journalled, readings excepted."""
        return f"{self.root}/inspection/{inspection}/event"

    def inspection_result(self, inspection: str) -> str:
        """QoS 1: the result document, each revision once."""
        return f"{self.root}/inspection/{inspection}/result"

    def command(self, name: str) -> str:
        """QoS 1: a request."""
        return f"{self.root}/command/{name}"

    def reply(self, request: str) -> str:
        """QoS 1: the answer to one request."""
        return f"{self.root}/reply/{request}"

    def command_name(self, topic: str) -> str:
        """The command's name in a topic that `commands` matched."""
        return topic.rpartition("/")[2]


@dataclass(frozen=True, slots=True)
class Live:
    """The sweep that runs, as far as it has come; may run ahead of the journal's commit.

    angle_deg: crank angle within the turn, 0 ≤ angle < 360; turn: full turns since the sweep began,
    counted as barred. max_deviation_mm: max − min so far. covered_deg: of the surface. limit_mm: what
    the method allows. closure_mm: second pass minus first over the same angles. lost: readings known
    to be lost. back_deg, back_times: how far and how often the crank was barred back. next_…: the place
    that the next thickness reading is for. lifts … next_step: of a repeatability test (check `lifts`), how
    many are taken, their standard deviation, and what to do next; when it has ended, repeatability_mm or a
    warning says what it came to, until something else begins. Figures are None where there is none yet;
    all others are when nothing runs.
    """

    inspection: str | None = None
    check: str | None = None
    gauge: str | None = None
    angle_deg: float | None = None
    angle_u_deg: float | None = None
    turn: int | None = None
    value_mm: float | None = None
    min_mm: float | None = None
    max_mm: float | None = None
    max_deviation_mm: float | None = None
    covered_deg: float | None = None
    largest_gap_deg: float | None = None
    limit_mm: float | None = None
    closure_mm: float | None = None
    readings: int = 0
    lost: int = 0
    back_deg: float | None = None
    back_times: int | None = None
    next_station_deg: float | None = None
    next_radius: Literal["outer", "inner"] | None = None
    lifts: int | None = None
    lifts_wanted: int | None = None
    repeatability_mm: float | None = None
    next_step: str | None = None
    warnings: tuple[str, ...] = ()


def encode(message: dict[str, Any]) -> bytes:
    """Compact JSON, UTF-8; a NaN is an error, never sent."""
    return json.dumps(message, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def status_payload(state: Literal["online", "offline"], warnings: Sequence[str] = ()) -> bytes:
    """`{"state":"online"}`; `warnings` where something about the daemon needs a person."""
    return encode({"state": state, **({"warnings": list(warnings)} if warnings else {})})


def live_payload(live: Live | None) -> bytes:
    """`Live` as JSON; None: no sweep runs."""
    return encode(asdict(live or Live()))


def value_field(value: int, unit: Unit) -> tuple[str, float | int]:
    """A value under its public name: `value_mm`, `value_deg` or `count`; exact to the last digit."""
    if unit is Unit.NM:
        return "value_mm", value / NM_PER_MM
    if unit is Unit.UDEG:
        return "value_deg", value / UDEG_PER_DEG
    return "count", value


def reading_payload(reading: Reading) -> bytes:
    """One reading: `seq`, `t_ns`, and `value_mm` (or `value_deg`, `count`)."""
    name, value = value_field(reading.value, reading.unit)
    return f'{{"seq":{reading.seq},"t_ns":{reading.time_ns},"{name}":{value!r}}}'.encode()


def gauge_state_payload(state: PublicState, reason: str, since: datetime, last: Reading | None) -> bytes:
    """A gauge's state, why, since when, and the last reading before (to be shown as past, not as now)."""
    message: dict[str, Any] = {"state": state, "reason": reason, "since": rfc3339(since)}
    if last is not None:
        name, value = value_field(last.value, last.unit)
        message["last"] = {"seq": last.seq, "t_ns": last.time_ns, name: value}
    else:
        message["last"] = None
    return encode(message)
