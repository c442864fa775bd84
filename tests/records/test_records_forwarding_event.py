"""Events are read by the public SDK of CloudEvents; signatures are held to RFC 9421 and verified by a public
library."""

from __future__ import annotations

import base64
import json
import time
from datetime import UTC, datetime
from hashlib import sha256

import httpx
import pytest
from cloudevents.core.bindings.http import HTTPMessage, from_structured_event
from http_message_signatures import HTTPMessageVerifier, InvalidSignature, MappingKeyResolver, algorithms
from jsonschema import Draft202012Validator

from contract.published import schemas
from records.forwarding.event import MEDIA_TYPE, as_contradiction, as_event
from records.forwarding.signature import base as signature_base
from records.forwarding.signature import mac, signed
from tests.records.reported import whole

STORED = "2026-11-26T05:14:02.500Z"
URL = "https://shop.example/results?bay=2"
KEY_ID = "greywacke/bay-2"


def test_the_public_sdk_reads_it() -> None:
    document = whole()
    message = HTTPMessage(headers={"content-type": MEDIA_TYPE}, body=as_event(document, STORED))
    event = from_structured_event(message)
    assert event.get_specversion() == "1.0"
    assert (event.get_source(), event.get_id()) == (
        "ringtrue/1/greywacke/bay-2",
        "20261126-060000-1a2b3c/6",
    )
    assert event.get_type() == "ringtrue.result.1"
    assert event.get_time() == datetime(2026, 11, 26, 5, 14, 2, 500_000, tzinfo=UTC)
    assert event.get_data() == json.loads(document)


def test_so_it_reads_that_results_contradict_each_other_by_their_schema() -> None:
    body = as_contradiction(whole(), "greywacke/bay-2, greywacke/bay-3", STORED)
    event = from_structured_event(HTTPMessage(headers={"content-type": MEDIA_TYPE}, body=body))
    assert (event.get_type(), event.get_id()) == (
        "ringtrue.contradicted.1",
        "20261126-060000-1a2b3c/contradicted",
    )
    data = event.get_data()
    Draft202012Validator(schemas()["contradicted"]).validate(data)
    assert isinstance(data, dict)
    assert data["bays"] == ["greywacke/bay-2", "greywacke/bay-3"]
    assert json.loads(body)["sha256"] == sha256(json.dumps(data, separators=(",", ":")).encode()).hexdigest()


def test_the_document_stands_in_it_byte_for_byte() -> None:
    document = whole()
    event = as_event(document, STORED)
    assert document in event
    assert json.loads(event)["sha256"] == sha256(document).hexdigest()


def test_the_example_of_the_standard() -> None:
    """RFC 9421, B.2.5: HMAC by SHA-256 with the key test-shared-secret (B.1.5)."""
    key = "uzvJfB4u3N0Jy4T7NZ75MDVcr8zSTInedJtkgcu46YW4XByzNJjxBdtjUkdJPBtbmHhIDi6pcl8jsasjlTMtDQ=="
    covered = {
        "date": "Tue, 20 Apr 2021 02:07:55 GMT",
        "@authority": "example.com",
        "content-type": "application/json",
    }
    signed_base = signature_base(covered, ';created=1618884473;keyid="test-shared-secret"')
    assert mac(signed_base, base64.b64decode(key)) == "pxcQw6G3AjtMBQjwo8XzkZf/bws5LelbaMk5rGIGtE8="


def verified(headers: dict[str, str], body: bytes, secret: bytes = b"a secret") -> object:
    """What a public library makes of it; it raises where the signature does not fit."""
    verifier = HTTPMessageVerifier(
        signature_algorithm=algorithms.HMAC_SHA256,
        key_resolver=MappingKeyResolver(public_keys={KEY_ID: secret}, private_keys={}),
    )
    message = httpx.Request("POST", URL, headers=headers, content=body)
    covered = ("@method", "@target-uri", "content-type", "content-digest")
    return verifier.verify(message, body=body, require_components=covered)


def test_a_public_library_verifies_what_is_signed() -> None:
    body = as_event(whole(), STORED)
    headers = signed(URL, MEDIA_TYPE, body, secret=b"a secret", key_id=KEY_ID, at=int(time.time()))
    assert verified(headers, body)


@pytest.mark.parametrize("wrong", ["body", "secret", "target", "old"])
def test_it_refuses_what_was_changed(wrong: str) -> None:
    body = as_event(whole(), STORED)
    url = "https://other.example/" if wrong == "target" else URL
    at = int(time.time()) - (3 * 86_400 if wrong == "old" else 0)
    headers = signed(url, MEDIA_TYPE, body, secret=b"a secret", key_id=KEY_ID, at=at)
    with pytest.raises(InvalidSignature):
        verified(
            headers,
            body.replace(b"keep", b"kepp") if wrong == "body" else body,
            b"another" if wrong == "secret" else b"a secret",
        )


def test_a_newer_document_is_called_one() -> None:
    newer = whole().replace(b'"ringtrue/result/1"', b'"ringtrue/result/2"', 1)
    event = json.loads(as_event(newer, STORED))
    assert (event["type"], event["dataschema"]) == ("ringtrue.result.2", "urn:ringtrue:schema:result:2")
