"""The contract as open standards have it: JSON Schema (2020-12) of each message and of each document that
goes by other ways than MQTT, and one AsyncAPI 3 document of the messages.

Made from the models, whose docstrings are the descriptions. `VERSION` says when the contract is another: its
first number when a reader of before may fail, the second when something was added.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, TypeAdapter
from pydantic.json_schema import JsonSchemaMode

from contract.chain import RECORD, Checkpoint
from contract.commands import COMMANDS, ReplyMessage
from contract.contradicted import Contradicted
from contract.events import EventMessage
from contract.health import HealthMessage
from contract.live import Live
from contract.methods import MethodIssue, MethodMessage
from contract.result import Result
from contract.states import GaugeStateMessage, ReadingMessage, StatusMessage
from contract.topics import Topics

VERSION = "1.4"
DIALECT = "https://json-schema.org/draft/2020-12/schema"
_SITE, _BAY = "{site}", "{bay}"


@dataclass(frozen=True, slots=True)
class Spoken:
    """One message: its name, the topic it goes over, its model, whether it is retained, at which QoS."""

    name: str
    topic: str
    model: type[BaseModel] | TypeAdapter[Any]
    summary: str
    retained: bool = False
    qos: int = 1
    is_asked: bool = False

    @property
    def mode(self) -> JsonSchemaMode:
        """What the bay reads is held to more than what it writes."""
        return "validation" if self.is_asked else "serialization"


def messages() -> Iterator[Spoken]:
    """All of them: what a bay says, then what it is asked."""
    topics = Topics(_SITE, _BAY)
    yield Spoken("status", topics.status, StatusMessage, "Whether the daemon is there", retained=True)
    yield Spoken("health", topics.health, HealthMessage, "What the daemon counts of itself", retained=True)
    yield Spoken(
        "gauge-state", topics.gauge_state("{gauge}"), GaugeStateMessage, "A gauge's state", retained=True
    )
    yield Spoken("reading", topics.gauge_reading("{gauge}"), ReadingMessage, "One reading", qos=0)
    yield Spoken("live", topics.live, Live, "What runs, as far as it has come", retained=True, qos=0)
    yield Spoken("event", topics.event("{inspection}"), EventMessage, "An event, as it is journalled")
    yield Spoken(
        "inspection-result", topics.inspection_result("{inspection}"), Result, "A result, each revision once"
    )
    yield Spoken("result", topics.result, Result, "The bay's current or latest result", retained=True)
    yield Spoken("chain", topics.chain, RECORD, "A record of the bay's chain of results")
    yield Spoken("checkpoint", topics.checkpoint, Checkpoint, "What the chain was last", retained=True)
    yield Spoken("method", topics.method, MethodMessage, "Which method is in force", retained=True)
    yield Spoken("reply", topics.reply("{request}"), ReplyMessage, "The answer to one request")
    yield Spoken(
        "method-issue",
        topics.issued_method,
        MethodIssue,
        "A method for all bays",
        retained=True,
        is_asked=True,
    )
    for name, model in COMMANDS.items():
        first = (model.__doc__ or "").strip().partition("\n")[0]
        yield Spoken(f"command-{name}", topics.command(name), model, first, is_asked=True)


DOCUMENTS: Mapping[str, type[BaseModel]] = {"contradicted": Contradicted}
"""What goes by other ways alone, by its name: what follows a result to the shop's own system."""


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema of each message and document by its name; each stands alone."""
    models = [(one.name, one.mode, _adapter(one.model)) for one in messages()]
    models += [(name, "serialization", TypeAdapter(model)) for name, model in DOCUMENTS.items()]
    found = {}
    for name, mode, model in models:
        schema = _plain(model.json_schema(mode=mode, by_alias=True))
        found[name] = {"$schema": DIALECT, "$id": f"urn:ringtrue:{name}:{VERSION}", **schema}
    return found


def asyncapi() -> dict[str, Any]:
    """The whole contract as one AsyncAPI 3 document."""
    spoken = list(messages())
    adapters = [(one.name, one.mode, _adapter(one.model)) for one in spoken]
    by_key, shared = TypeAdapter.json_schemas(
        adapters, by_alias=True, ref_template="#/components/schemas/{model}"
    )
    payloads = {one.name: _plain(by_key[one.name, one.mode]) for one in spoken}
    return {
        "asyncapi": "3.1.0",
        "id": "urn:ringtrue:bay",
        "info": {
            "title": "ringtrue: a bay on MQTT",
            "version": VERSION,
            "description": "JSON, UTF-8; keys may be added at any time, and a reader ignores those that it "
            "does not know. Lengths end in _mm, angles in _deg; times are RFC 3339, UTC.",
            "license": {"name": "Apache-2.0"},
        },
        "defaultContentType": "application/json",
        "channels": {one.name: _channel(one) for one in spoken},
        "operations": {one.name: _operation(one) for one in spoken},
        "components": {
            "messages": {
                one.name: {"name": one.name, "summary": one.summary, "payload": payloads[one.name]}
                for one in spoken
            },
            "schemas": _plain(shared.get("$defs", {})),
        },
    }


def _adapter(model: type[BaseModel] | TypeAdapter[Any]) -> TypeAdapter[Any]:
    return model if isinstance(model, TypeAdapter) else TypeAdapter(model)


def _plain(schema: Any) -> Any:
    """Without the key that only OpenAPI knows."""
    if isinstance(schema, dict):
        return {key: _plain(value) for key, value in schema.items() if key != "discriminator"}
    return [_plain(one) for one in schema] if isinstance(schema, list) else schema


def _channel(one: Spoken) -> dict[str, Any]:
    names = [level.strip("{}") for level in one.topic.split("/") if level.startswith("{")]
    return {
        "address": one.topic,
        "messages": {one.name: {"$ref": f"#/components/messages/{one.name}"}},
        "parameters": {name: {"description": _PARAMETERS[name]} for name in names},
    }


_PARAMETERS = {
    "site": "The site, as configured.",
    "bay": "The bay of that site.",
    "gauge": "A gauge's id.",
    "inspection": "An inspection's id.",
    "request": "The id of the request that is answered.",
}


def _operation(one: Spoken) -> dict[str, Any]:
    operation: dict[str, Any] = {
        "action": "receive" if one.is_asked else "send",
        "channel": {"$ref": f"#/channels/{one.name}"},
        "summary": one.summary,
        "bindings": {"mqtt": {"qos": one.qos, "retain": one.retained, "bindingVersion": "0.2.0"}},
    }
    if one.name.startswith("command-"):
        operation["reply"] = {"channel": {"$ref": "#/channels/reply"}}
    return operation
