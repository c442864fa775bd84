"""A method that is handed out to all bays of a site, and what a bay says of the one in force.

The issue is one JSON object in the one form that RFC 8785 gives it, with an Ed25519 signature (RFC 8032) over
that form of all its other keys, by the key of the office that owns the method.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from contract.chain import PublicKey, Sha256, Signature
from contract.wire import Message, encode

ISSUE_SCHEMA: Literal["ringtrue/method-issue/1"] = "ringtrue/method-issue/1"
ISSUE_MAX_BYTES = 200_000
"""Of an issue: a method has some 10 000."""


class MethodIssue(Message):
    """site: of whose bays it is. number: rises by one or more from issue to issue of a site, whatever the
    method in it; a bay never takes a lower one again. rollback: it is to be taken although its version is not
    higher than the one in force, or its id another. time: when it was signed, by the office's clock (RFC
    3339); nothing is decided by it. method: the whole method, as its file says it. key: the office's public
    key (hex)."""

    document_schema: Literal["ringtrue/method-issue/1"] = Field(alias="schema")
    site: str
    number: int = Field(ge=1, le=2**53 - 1)
    rollback: bool
    time: str
    method: dict[str, Any]
    key: PublicKey
    signature: Signature


class MethodNamed(Message):
    """Which method. number: of its issue; left out: the bay's own file says it. since: when the bay took it
    up (RFC 3339), where that is known."""

    id: str
    version: str
    sha256: Sha256
    number: int | None = None
    since: str | None = None


class MethodMessage(Message):
    """in_force: what is graded by now. waiting: taken up, and in force once the inspection that is open is
    over. refused: why the issue that came last was not taken. withheld: why no inspection can be opened."""

    in_force: MethodNamed
    waiting: MethodNamed | None = None
    refused: str | None = None
    withheld: str | None = None


def method_payload(message: MethodMessage) -> bytes:
    """As JSON."""
    return encode(message.model_dump(exclude_none=True))
