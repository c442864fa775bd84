"""A result as a CloudEvent (CloudEvents 1.0.2, JSON format in structured mode)."""

from __future__ import annotations

import json
from hashlib import sha256

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
    said = {
        "specversion": "1.0",
        "id": f"{key['inspection']}/{key['revision']}",
        "source": f"ringtrue/1/{key['site']}/{key['bay']}",
        "type": f"ringtrue.result.{version}",
        "subject": key["inspection"],
        "time": stored,
        "datacontenttype": "application/json",
        "dataschema": f"urn:ringtrue:schema:result:{version}",
        "sha256": sha256(document).hexdigest(),
    }
    head = json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()
    return head[:-1] + b',"data":' + document + b"}"
