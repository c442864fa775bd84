"""A result as a CloudEvent (CloudEvents 1.0.2, JSON format in structured mode), or that it counts no more."""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from contract.contradicted import Contradicted
from grading.programme.order import contradicted
from records.store import SCHEMA_PREFIX, columns_of

MEDIA_TYPE = "application/cloudevents+json"


def as_event(document: bytes, stored: str) -> bytes:
    """The event, JSON in UTF-8, with the document byte for byte as its data. stored: when (RFC 3339).

    source and id name it for good: a receiver that has seen them both before has seen this revision.
    `sha256` is an extension, over the data's bytes as they stand in the event. Raises RecordRefusedError
    where it is no result document.
    """
    key = columns_of(document)
    version = json.loads(document)["schema"].removeprefix(SCHEMA_PREFIX)
    return _event(key, f"result.{version}", str(key["revision"]), stored, document)


def as_contradiction(document: bytes, bays: str, stored: str) -> bytes:
    """The event that follows results of which bays issued others that contradict them, and which count no
    more. document: one of these; bays: as `records.order` has them. Raises RecordRefusedError as above."""
    key = columns_of(document)
    inspection = key["inspection"]
    said = Contradicted(
        inspection=inspection, bays=tuple(bays.split(", ")), why=contradicted(inspection, bays)
    )
    return _event(key, "contradicted.1", "contradicted", stored, said.model_dump_json(by_alias=True).encode())


def _event(key: Mapping[str, Any], kind: str, name: str, stored: str, data: bytes) -> bytes:
    said = {
        "specversion": "1.0",
        "id": f"{key['inspection']}/{name}",
        "source": f"ringtrue/1/{key['site']}/{key['bay']}",
        "type": f"ringtrue.{kind}",
        "subject": key["inspection"],
        "time": stored,
        "datacontenttype": "application/json",
        "dataschema": f"urn:ringtrue:schema:{kind.replace('.', ':')}",
        "sha256": sha256(data).hexdigest(),
    }
    head = json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()
    return head[:-1] + b',"data":' + data + b"}"
