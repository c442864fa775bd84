"""docs/schemas/README.md: the contract as a page to be read, made of the AsyncAPI document."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from contract.published import VERSION, asyncapi

HEAD = (
    "# The messages of a bay\n\n"
    f"Made of the contract's models, version {VERSION}, as are the files beside it: "
    "[asyncapi.json](asyncapi.json) (AsyncAPI 3), and JSON Schema (2020-12) of each message and of what "
    "follows a result by HTTP ([contradicted.json](contradicted.json)). `ringtrue schema` prints the same. "
    "Keys may be added at any time: a reader passes over those that it does not know. [../mqtt.md]"
    "(../mqtt.md) tells how a bay is talked to, [../figures.md](../figures.md) what the figures mean.\n\n"
    "All topics begin with `ringtrue/1/SITE/BAY/`. JSON, UTF-8; lengths end in `_mm`, angles in `_deg`; "
    "times are RFC 3339, UTC.\n"
)
ROOT = "ringtrue/1/{site}/{bay}/"


def page() -> str:
    """The whole page."""
    document = asyncapi()
    return "\n".join([HEAD, *_table(document), "", *_models(document)]) + "\n"


def _table(document: dict[str, Any]) -> Iterator[str]:
    yield "| topic | who says it | retained | QoS | what | payload |"
    yield "|---|---|---|---|---|---|"
    for name, channel in document["channels"].items():
        operation = document["operations"][name]
        bound = operation["bindings"]["mqtt"]
        who = "bay" if operation["action"] == "send" else "you"
        payload = _kind(document["components"]["messages"][name]["payload"])
        retained = "yes" if bound["retain"] else "no"
        topic = channel["address"].removeprefix(ROOT)
        summary = operation["summary"]
        yield f"| `{topic}` | {who} | {retained} | {bound['qos']} | {summary} | {payload} |"


def _models(document: dict[str, Any]) -> Iterator[str]:
    for name, schema in sorted(document["components"]["schemas"].items()):
        yield f"## {name}\n"
        yield " ".join(schema.get("description", "").split()) + "\n"
        yield "| key | type | |"
        yield "|---|---|---|"
        needed = schema.get("required", ())
        for key, value in schema.get("properties", {}).items():
            yield f"| `{key}` | {_kind(value)} | {'always' if key in needed else ''} |"
        yield ""


def _kind(schema: dict[str, Any]) -> str:
    """In a few words, with links to the models."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return f"[{name}](#{name.lower()})"
    if "const" in schema:
        return f"`{schema['const']}`"
    if "enum" in schema:
        return ", ".join(f"`{value}`" for value in schema["enum"])
    for key in ("anyOf", "oneOf"):
        if key in schema:
            return " or ".join(dict.fromkeys(_kind(one) for one in schema[key]))
    if schema.get("type") == "array":
        return f"list of {_kind(schema.get('items', {}))}"
    if schema.get("type") == "object" and isinstance(schema.get("additionalProperties"), dict):
        return f"by name: {_kind(schema['additionalProperties'])}"
    return str(schema.get("type", "anything"))
