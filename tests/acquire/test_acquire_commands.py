"""Commands that are no commands: one reply each, with a code and a sentence, and nothing changed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.bay import asked
from acquire.bay.asked import parse, read_payload, whole
from acquire.errors import CommandRefusedError
from contract import commands
from contract.commands import CODES, COMMAND_BYTES_MAX, COMMANDS
from tests.acquire.workbench import INDICATOR, Workbench

BASE: dict[str, Any] = {"id": "r1", "operator": "R. Example"}
OPEN = {**BASE, "engine": "GQ-E-2207", "damper": "GQ-D-0815", "scope": "on-engine"}
TYPED = {**BASE, "check": "face", "gauge": "typed"}
NOTED = {"item": "leak", "seen": "good", "note": "\ud800"}
RECORD = {**BASE, "check": "thickness", "station_deg": 0, "radius": "outer", "value_mm": 38.01}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Workbench]:
    made = Workbench(tmp_path)
    yield made
    made.close()


MALFORMED: list[tuple[str, bytes, str]] = [
    ("open", b"", "expected a JSON object"),
    ("open", b"\xff\xfe", "expected a JSON object"),
    ("open", b"{", "expected a JSON object"),
    ("open", b"[]", "expected a JSON object"),
    ("open", b"7", "expected a JSON object"),
    ("open", b"[" * 10_000, "expected a JSON object"),
    ("open", b'{"id":"r1","hours_h":NaN}', "expected a JSON object"),
    ("open", b'{"id":"r1","hours_h":' + b"1" * 5000 + b"}", "expected a JSON object"),
    ("open", b'{"id":"r1","hours_h":1e99999999999999999999}', "expected a JSON object"),
    ("open", json.dumps(BASE).encode(), "engine: must be given"),
    ("open", json.dumps({**OPEN, "enginge": "x"}).encode(), "enginge: there is no such key"),
    ("open", json.dumps({**OPEN, "scope": "all"}).encode(), "scope: expected 'on-engine'"),
    ("open", json.dumps({**OPEN, "inspection": "a/b"}).encode(), "inspection:"),
    ("open", json.dumps({**OPEN, "inspection": "#"}).encode(), "inspection:"),
    ("open", json.dumps({**OPEN, "engine": ""}).encode(), "engine:"),
    ("open", json.dumps({**OPEN, "engine": "  "}).encode(), "engine: one line of text"),
    ("open", json.dumps({**OPEN, "engine": "a\nb"}).encode(), "engine:"),
    ("open", json.dumps({**OPEN, "engine": "\ud800"}).encode(), "engine:"),
    ("open", json.dumps({**OPEN, "\ud800": 1}).encode(), "unicode"),
    ("open", json.dumps({**OPEN, "distance_km": "12"}).encode(), "distance_km: a number"),
    ("open", json.dumps({**OPEN, "hours_h": True}).encode(), "hours_h: a number"),
    ("open", json.dumps({**OPEN, "hours_h": -1}).encode(), "hours_h:"),
    ("open", json.dumps({**OPEN, "operator": ""}).encode(), "operator:"),
    ("begin", json.dumps({**BASE, "check": "visual", "gauge": "x"}).encode(), "check:"),
    ("begin", json.dumps({**BASE, "check": "rim", "gauge": "g", "mpe_mm": 0.1}).encode(), "typed"),
    ("begin", json.dumps({**BASE, "check": "rim", "gauge": "g", "radius_mm": 5}).encode(), "only with"),
    ("begin", json.dumps({**TYPED, "resolution_mm": 1e-7}).encode(), "resolution_mm:"),
    ("begin", json.dumps({**TYPED, "radius_mm": 1e-9}).encode(), "radius_mm:"),
    ("mark", json.dumps({**BASE, "angle_deg": 1e9}).encode(), "angle_deg:"),
    ("mark", b'{"id":"r1","operator":"R. Example","angle_deg":1e999999999}', "angle_deg:"),
    ("record", json.dumps({**BASE, "check": "visual"}).encode(), "takes items"),
    ("record", json.dumps({**BASE, "check": "visual", "items": []}).encode(), "items:"),
    ("record", json.dumps({**BASE, "check": "visual", "items": "leak"}).encode(), "a JSON list such as ["),
    ("record", json.dumps({**BASE, "items": [{"item": "a", "seen": "fine"}]}).encode(), "seen:"),
    ("record", json.dumps({**RECORD, "radius": None}).encode(), "takes radius, station_deg, value_mm"),
    ("record", json.dumps({**RECORD, "angle_deg": 1}).encode(), "takes radius, station_deg, value_mm"),
    ("record", json.dumps({**BASE, "value_mm": 1}).encode(), "takes angle_deg, value_mm"),
    ("record", json.dumps({**BASE, "angle_deg": 30}).encode(), "record: angle_deg needs value_mm with it"),
    ("record", json.dumps({**BASE, "angle_deg": 30, "low_mm": 1}).encode(), "angle_deg needs value_mm"),
    ("record", json.dumps({**BASE, "check": "thickness", "angle_deg": 3}).encode(), "takes radius, station"),
    ("record", json.dumps({**RECORD, "station_deg": 360}).encode(), "station_deg:"),
    ("record", json.dumps({**BASE, "check": "visual", "items": [NOTED]}).encode(), "items.0.note:"),
    ("close", json.dumps(BASE).encode(), "inspection: must be given"),
    ("sign", json.dumps({**BASE, "inspection": "i"}).encode(), "name: must be given"),
    ("resend", json.dumps({**BASE, "since": "yesterday"}).encode(), "since:"),
    ("resend", json.dumps({**BASE, "since": "2026-03-02T06:00:00"}).encode(), "since:"),
    ("resend", json.dumps({**BASE, "since": "0001-01-01T00:00:00+23:59"}).encode(), "since:"),
    ("resend", json.dumps({**BASE, "since": 0}).encode(), "since:"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "payload", "said"), MALFORMED)
def test_a_malformed_command_is_told_what_is_wrong(
    bench: Workbench, name: str, payload: bytes, said: str
) -> None:
    reply = bench.bay.command(name, payload)
    answer = json.loads(reply.payload)
    assert answer["ok"] is False
    assert answer["error"]["code"] == "malformed"
    assert said in answer["error"]["message"]
    assert "\n" not in answer["error"]["message"]
    assert bench.bay.latest is None
    bench.flush()
    assert bench.journal.inspections() == []


def test_a_wrong_item_is_named_and_not_the_length_of_its_list() -> None:
    with pytest.raises(CommandRefusedError) as caught:
        parse("record", {**BASE, "check": "visual", "items": [{"item": "leak", "seen": "fine"}]})
    assert "seen" in caught.value.message
    assert "at least" not in caught.value.message


@pytest.mark.parametrize("request_id", [None, 7, "", "a/b", "a+b", "#", "a b", "x" * 65, "ä"])
def test_without_a_readable_id_the_reply_goes_to_unknown(bench: Workbench, request_id: object) -> None:
    reply = bench.bay.command("open", json.dumps({**OPEN, "id": request_id}).encode())
    assert reply.request == "unknown"
    assert json.loads(reply.payload)["id"] is None
    assert json.loads(reply.payload)["error"]["code"] == "malformed"
    assert bench.bay.latest is None


def test_an_unknown_command_is_told_which_there_are(bench: Workbench) -> None:
    reply = json.loads(bench.bay.command("opne", json.dumps(OPEN).encode()).payload)
    assert reply["error"]["code"] == "unknown-command"
    assert all(name in reply["error"]["message"] for name in COMMANDS)
    assert reply["id"] == "r1"


def test_an_oversized_command_is_refused_though_its_id_is_heard(bench: Workbench) -> None:
    long = {**OPEN, "work_order": "x" * COMMAND_BYTES_MAX}
    reply = bench.bay.command("open", json.dumps(long).encode())
    assert (reply.request, json.loads(reply.payload)["error"]["code"]) == ("r1", "oversized")
    longer = {**OPEN, "work_order": "x" * 20 * COMMAND_BYTES_MAX}
    reply = bench.bay.command("open", json.dumps(longer).encode())
    assert (reply.request, json.loads(reply.payload)["error"]["code"]) == ("unknown", "oversized")
    assert bench.bay.latest is None


def test_a_retained_command_is_refused_and_its_id_stays_free(bench: Workbench) -> None:
    reply = bench.bay.command("open", json.dumps(OPEN).encode(), retained=True)
    assert json.loads(reply.payload)["error"]["code"] == "retained"
    assert bench.bay.latest is None
    assert bench.send_raw("open", OPEN)["ok"]


def test_all_codes_say_what_to_do() -> None:
    for code, sentence in CODES.items():
        assert code == code.lower()
        assert ";" in sentence


@given(st.binary(max_size=200) | st.text(max_size=100).map(str.encode))
def test_whatever_bytes_come_they_are_read_or_refused(payload: bytes) -> None:
    request, said = read_payload(payload)
    assert request is None or isinstance(said, dict)
    for name in COMMANDS:
        with pytest.raises(CommandRefusedError):
            parse(name, said)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
KEYS = sorted({key for model in COMMANDS.values() for key in model.model_fields})


def outcome(name: str, said: dict[str, Any]) -> commands.Command | CommandRefusedError:
    try:
        return parse(name, said)
    except CommandRefusedError as error:
        return error


@pytest.mark.slow
@settings(max_examples=50)
@given(st.sampled_from(sorted(COMMANDS)), st.dictionaries(st.sampled_from(KEYS), JSON, max_size=8))
def test_whatever_values_a_command_carries_it_is_parsed_or_refused_in_one_line(
    name: str, said: dict[str, Any]
) -> None:
    answer = outcome(name, said)
    if isinstance(answer, CommandRefusedError):
        reply = asked.refused(None, answer)
        assert answer.code == "malformed"
        assert b"\n" not in reply.payload
        json.loads(reply.payload)
    else:
        assert answer.id == said["id"]


@given(st.decimals(-10_000, 10_000, places=9))
def test_lengths_are_whole_nanometres_within_half_of_one(value: Decimal) -> None:
    assert abs(whole(value, 1_000_000) - value * 1_000_000) <= Decimal("0.5")


def test_a_length_is_exact_where_a_float_is_not() -> None:
    _, said = read_payload(b'{"value_mm": 0.29, "tiny": 1e-999999}')
    assert said is not None
    assert whole(said["value_mm"], 1_000_000) == 290_000
    assert whole(Decimal("0.0000005"), 1_000_000) == 0
    assert whole(Decimal("0.0000015"), 1_000_000) == 2
    assert whole(said["tiny"], 1_000_000) == 0


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("begin", {"check": "face", "gauge": INDICATOR}),
        ("mark", {"angle_deg": 0}),
        ("zero", {}),
        ("end", {}),
        ("cancel", {"check": "rim"}),
        ("record", {"check": "visual", "items": [{"item": "leak", "seen": "good"}]}),
        ("time", {"check": "penetrant", "item": "penetrant-dwell"}),
    ],
)
def test_what_is_meant_for_another_inspection_is_refused(
    bench: Workbench, name: str, arguments: dict[str, Any]
) -> None:
    """It was asked for while that one was open, and comes once the next one is."""
    bench.do("abandon", inspection=bench.open("truck-13"))
    bench.open("truck-14")
    bench.do("begin", check="rim", gauge=INDICATOR)
    assert bench.refused(name, inspection="truck-13", **arguments) == "out-of-order"
    if name in ("end", "mark"):
        bench.do(name, inspection="truck-14", **arguments)
