"""The contract as open standards have it; read by an independent validator (the library jsonschema)."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from contract.commands import COMMANDS
from contract.document import as_data
from contract.live import Live, live_payload
from contract.published import VERSION, asyncapi, messages, schemas
from contract.states import (
    GaugeStateMessage,
    gauge_state_payload,
    reading_message,
    reading_payload,
    status_payload,
)
from contract.units import Unit
from ringtrue.cli import main
from tests.published import FOLDER, PAGE, VERSIONS, files, fingerprint, versions
from tests.published_page import page
from tests.ringtrue.test_ringtrue_watch import RESULT

SCHEMAS = schemas()


def test_the_files_are_those_of_the_models() -> None:
    there = {file.name: file.read_text() for file in FOLDER.glob("*.json") if file != VERSIONS}
    assert there == files(), "python -m tests.published writes them anew"
    assert PAGE.read_text() == page(), "python -m tests.published writes it anew"


def test_a_contract_that_is_another_has_another_version() -> None:
    assert versions()[VERSION] == fingerprint(), (
        "the contract has changed: raise VERSION in contract/published.py (the first number where a reader "
        "of before may fail), then python -m tests.published"
    )
    assert len(set(versions().values())) == len(versions())


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_each_is_a_schema_and_stands_alone(name: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[name])
    refs = [value for key, value in _leaves(SCHEMAS[name]) if key == "$ref"]
    assert all(ref.removeprefix("#/$defs/") in SCHEMAS[name].get("$defs", {}) for ref in refs)


STATE = GaugeStateMessage(
    state="connected",
    reason="reading",
    since="2026-03-02T06:00:00.000Z",
    last=reading_message(7, 1, 250, Unit.NM),
)
SAID: dict[str, bytes] = {
    "status": status_payload("online", ["the disk is full"]),
    "gauge-state": gauge_state_payload(STATE),
    "reading": reading_payload(7, 123, -250_000, Unit.NM, 40),
    "live": live_payload(Live(check="rim", gauge="indicator-1", value_mm=0.1)),
    "result": json.dumps(as_data(RESULT)).encode(),
}


@pytest.mark.parametrize("name", sorted(SAID))
def test_what_a_bay_says_is_valid(name: str) -> None:
    Draft202012Validator(SCHEMAS[name]).validate(json.loads(SAID[name]))


ASKED: dict[str, dict[str, Any]] = {
    "begin": {"id": "r1", "operator": "me", "check": "rim", "gauge": "indicator-1"},
    "record": {"id": "r2", "operator": "me", "check": "visual", "items": [{"item": "oil", "seen": "good"}]},
    "close": {"id": "r3", "operator": "me", "inspection": "i-1"},
}


@pytest.mark.parametrize("name", sorted(ASKED))
def test_a_command_is_valid_and_one_with_a_key_too_many_is_not(name: str) -> None:
    validator = Draft202012Validator(SCHEMAS[f"command-{name}"])
    validator.validate(ASKED[name])
    assert not validator.is_valid({**ASKED[name], "gauge_id": "x"})
    assert not validator.is_valid({**ASKED[name], "id": 5})


def test_one_document_has_every_message_topic_and_command() -> None:
    document = asyncapi()
    assert {one.name for one in messages()} == set(document["channels"]) == set(document["operations"])
    asked = {name for name, one in document["operations"].items() if one["action"] == "receive"}
    assert asked == {"method-issue", *(f"command-{name}" for name in COMMANDS)}
    refs = [value for key, value in _leaves(document) if key == "$ref"]
    for ref in refs:
        at: Any = document
        for step in ref.removeprefix("#/").split("/"):
            at = at[step]
        assert at


def test_the_command_prints_them(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == asyncapi()
    assert main(["schema", "result"]) == 0
    assert json.loads(capsys.readouterr().out) == SCHEMAS["result"]
    assert main(["schema", "--list"]) == 0
    assert capsys.readouterr().out.splitlines()[0].split() == ["status", "ringtrue/1/{site}/{bay}/status"]
    assert main(["schema", "verdict"]) == 2
    assert "MESSAGE: expected one of status, " in capsys.readouterr().err


def _leaves(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        for name, one in value.items():
            yield from _leaves(one, name)
    elif isinstance(value, list):
        for one in value:
            yield from _leaves(one, key)
    else:
        yield key, value
