"""Topics and payloads, as other programs rely on them."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from contract.commands import Open
from contract.live import Live, live_payload
from contract.states import (
    GaugeStateMessage,
    gauge_state_payload,
    reading_message,
    reading_payload,
    status_payload,
)
from contract.topics import Topics
from contract.units import Unit
from contract.wire import encode, rfc3339

TOPICS = Topics("quarry", "bay-2")


def test_every_topic() -> None:
    root = "ringtrue/1/quarry/bay-2"
    assert TOPICS.root == root
    assert TOPICS.status == f"{root}/status"
    assert TOPICS.live == f"{root}/live"
    assert TOPICS.result == f"{root}/result"
    assert TOPICS.gauge_state("indicator-1") == f"{root}/gauge/indicator-1/state"
    assert TOPICS.gauge_reading("indicator-1") == f"{root}/gauge/indicator-1/reading"
    assert TOPICS.event("i-1") == f"{root}/inspection/i-1/event"
    assert TOPICS.inspection_result("i-1") == f"{root}/inspection/i-1/result"
    assert TOPICS.command("open") == f"{root}/command/open"
    assert TOPICS.commands == f"{root}/command/+"
    assert TOPICS.command_name(TOPICS.command("open")) == "open"
    assert TOPICS.reply("7") == f"{root}/reply/7"


def test_status_and_state_payloads() -> None:
    assert status_payload("online") == b'{"state":"online"}'
    since = rfc3339(datetime(2026, 3, 2, 6, 0, tzinfo=UTC))
    absent = GaugeStateMessage(state="absent", reason="no such port", since=since)
    assert json.loads(gauge_state_payload(absent)) == {
        "state": "absent", "reason": "no such port", "since": "2026-03-02T06:00:00.000Z", "last": None,
    }  # fmt: skip
    last = reading_message(4, 9, 360_500_000, Unit.UDEG)
    silent = GaugeStateMessage(state="silent", reason="", since=since, last=last)
    assert json.loads(gauge_state_payload(silent))["last"] == {
        "seq": 4, "t_ns": 9, "value_deg": 360.5,
    }  # fmt: skip


def test_no_sweep_is_live_without_figures() -> None:
    idle = json.loads(live_payload(None))
    assert idle["check"] is None
    assert idle["value_mm"] is None
    assert json.loads(live_payload(Live(check="rim", warnings=("careful",))))["warnings"] == ["careful"]


def test_no_message_ever_holds_nan() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        encode({"value_mm": float("nan")})


@given(st.integers(-(10**12), 10**12), st.sampled_from(Unit), st.integers(0, 10**9))
def test_readings_are_exact_to_the_last_digit(value: int, unit: Unit, u_ns: int) -> None:
    said = json.loads(reading_payload(1, 2, value, unit, u_ns))
    assert said == reading_message(1, 2, value, unit, u_ns).model_dump(exclude_none=True)
    assert said.get("t_u_ns", 0) == u_ns
    assert (said["seq"], said["t_ns"]) == (1, 2)
    if unit is Unit.COUNT:
        assert said["count"] == value
    else:
        assert round(said["value_mm" if unit is Unit.NM else "value_deg"] * 1_000_000) == value


@pytest.mark.parametrize("hidden", ["\u200b", "\u202e", "\u00ad", "\ufeff", "\u2028", "\n"])
def test_no_name_or_serial_holds_what_cannot_be_seen(hidden: str) -> None:
    """Two serials that look alike would be two dampers."""
    said = {"id": "r1", "operator": "me", "engine": "GQ-E-2207", "scope": "bench"}
    Open.model_validate(said | {"damper": "GQ-D-0815"})
    with pytest.raises(ValidationError, match="letters that are seen"):
        Open.model_validate(said | {"damper": f"GQ-D-{hidden}0815"})
