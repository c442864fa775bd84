"""What programs may ask of the pages' server, as OpenAPI 3.1 has it; made from the contract's models."""

from __future__ import annotations

from functools import cache
from typing import Any

from contract.published import VERSION
from contract.result import Result

CONTRADICTED = "Ringtrue-Contradicted"
"""Header of a document whose inspection has results that contradict each other: the bays that issued them."""
_REF = "#/components/schemas/{model}"


@cache
def described() -> dict[str, Any]:
    """The whole document; made when it is first asked for, which takes a tenth of a second."""
    schema = Result.model_json_schema(mode="serialization", by_alias=True, ref_template=_REF)
    parts = schema.pop("$defs", {})
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "ringtrue: results of inspections",
            "version": VERSION,
            "description": "Reading only. Lengths in mm, times in UTC; keys may be added at any time.",
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "security": [{"session": []}],
        "paths": {
            "/enter": {"post": _enter()},
            "/api/1/inspections": {"get": _list()},
            "/api/1/inspections/{inspection}": {"get": _one()},
            "/api/1/due.ics": {
                "get": {
                    "operationId": "due",
                    "summary": "A day for each engine that is due or will be (RFC 5545)",
                    "responses": _answers("text/calendar", {"type": "string"}),
                }
            },
        },
        "components": {
            "schemas": {"Result": schema, "Error": _object({"error": {"type": "string"}}), **parts},
            "securitySchemes": {
                "session": {
                    "type": "apiKey",
                    "in": "cookie",
                    "name": "ringtrue",
                    "description": "As /enter sets it; under TLS its name begins with __Host-.",
                }
            },
        },
    }


def _enter() -> dict[str, Any]:
    form = _object({"name": {"type": "string"}, "password": {"type": "string"}})
    return {
        "operationId": "enter",
        "summary": "Name and password for a session, which whoever may look may use",
        "security": [],
        "parameters": [
            {
                "name": "X-Ringtrue",
                "in": "header",
                "required": True,
                "schema": {"type": "string"},
                "description": "Anything: that it is not another site's page.",
            }
        ],
        "requestBody": {
            "required": True,
            "content": {"application/x-www-form-urlencoded": {"schema": form}},
        },
        "responses": {
            "200": {"description": "Entered; the cookie is set"},
            "403": {"description": "Not let in", "content": _error()},
        },
    }


def _list() -> dict[str, Any]:
    found = _object(
        {
            "inspections": {"type": "array", "items": {"$ref": "#/components/schemas/Result"}},
            "contradicted": {
                "type": "object",
                "additionalProperties": {"type": "string"},
                "description": "Of all on record: inspections whose result does not count, as bays issued "
                "results of them that contradict each other, and why in a sentence",
            },
            "next": {"type": ["string", "null"], "description": "`after` for what follows; null at the end"},
        }
    )
    return {
        "operationId": "inspections",
        "summary": "The latest revision of each inspection, as recorded, oldest first",
        "parameters": [
            _query("since", {"type": "string", "format": "date-time"}, "Only what was recorded from then on"),
            _query("after", {"type": "string"}, "`next` of the answer before"),
            _query("engine", {"type": "string"}, "Only of this engine"),
            _query("damper", {"type": "string"}, "Only of this damper"),
            _query("limit", {"type": "integer", "minimum": 1, "maximum": 500, "default": 100}, "How many"),
        ],
        "responses": _answers("application/json", found, "400"),
    }


def _one() -> dict[str, Any]:
    answers = _answers("application/json", {"$ref": "#/components/schemas/Result"}, "400", "404")
    answers["200"]["headers"] = {
        CONTRADICTED: {
            "schema": {"type": "string"},
            "description": "Only where the result does not count: the bays that issued results of this "
            "inspection that contradict each other, percent-encoded",
        }
    }
    inspection = {"name": "inspection", "in": "path", "required": True, "schema": {"type": "string"}}
    return {
        "operationId": "inspection",
        "summary": "One result document, byte for byte as it is on record",
        "parameters": [inspection, _query("revision", {"type": "integer"}, "Which; the latest by itself")],
        "responses": answers,
    }


def _query(name: str, schema: dict[str, Any], meaning: str) -> dict[str, Any]:
    return {"name": name, "in": "query", "schema": schema, "description": meaning}


def _object(properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": list(properties)}


def _error() -> dict[str, Any]:
    return {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}


def _answers(media: str, schema: dict[str, Any], *wrong: str) -> dict[str, Any]:
    meanings = {
        "400": "A wrong question",
        "401": "No session",
        "404": "Nothing of that name",
        "503": "The records cannot be read now",
    }
    return {
        "200": {"description": "It", "content": {media: {"schema": schema}}},
        **{code: {"description": meanings[code], "content": _error()} for code in (*wrong, "401", "503")},
    }
