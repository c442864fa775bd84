"""What a bay signs: a record for each result, in one chain, and checkpoints over all of them.

Each message is one JSON object in the one form that RFC 8785 gives it, with the Ed25519 signature
(RFC 8032) over that form of all its other keys. docs/chain.md says what this proves.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from contract.wire import Message

RECORD_SCHEMA: Literal["ringtrue/chain/1"] = "ringtrue/chain/1"
CHECKPOINT_SCHEMA: Literal["ringtrue/checkpoint/1"] = "ringtrue/checkpoint/1"
CONSISTENCY_SCHEMA: Literal["ringtrue/consistency/1"] = "ringtrue/consistency/1"

Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
PublicKey = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Signature = Annotated[str, Field(pattern=r"^[0-9a-f]{128}$")]
ChainId = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]

Why = Literal["first", "restored", "other-key", "renamed", "contradicted"]
"""Why a chain begins: the bay's first; its journal was put back from a copy; its key is another; site or bay
is called otherwise; a checkpoint under its name was seen that its journal contradicts."""


class _Signed(Message):
    """site, bay: who signs. chain: which of its chains. time: the bay's wall clock (RFC 3339, UTC), which may
    have been wrong. key: the public key (hex)."""

    site: str
    bay: str
    chain: ChainId
    time: str
    key: PublicKey
    signature: Signature


class Checkpoint(_Signed):
    """What a chain was at a moment: so many records, and the root of their hash tree (RFC 6962, 2.1)."""

    document_schema: Literal["ringtrue/checkpoint/1"] = Field(alias="schema")
    size: int = Field(ge=1)
    root: Sha256


class Consistency(Message):
    """That a chain still begins with the first `since` records that it had (RFC 6962, 2.1.2; hex)."""

    document_schema: Literal["ringtrue/consistency/1"] = Field(alias="schema")
    checkpoint: dict[str, Any]
    since: int = Field(ge=1)
    proof: tuple[Sha256, ...]


class After(Message):
    """The chain before, as far as the bay's journal holds it."""

    chain: ChainId
    size: int = Field(ge=1)
    root: Sha256


class _Record(_Signed):
    """index: its place in its chain, from 0. previous: SHA-256 of the record before, as it was sent; empty
    for the first."""

    document_schema: Literal["ringtrue/chain/1"] = Field(alias="schema")
    index: int = Field(ge=0)
    previous: Sha256 | Literal[""]


class ChainBegun(_Record):
    """The first record of a chain. seen: the checkpoint that made the bay begin another, where one did."""

    kind: Literal["begun"]
    why: Why
    after: After | None = None
    seen: Checkpoint | None = None


class ChainResult(_Record):
    """One result. document_sha256: of the result document, byte for byte. later: it was taken up after it was
    issued, as those of before there was a chain."""

    kind: Literal["result"]
    inspection: str
    revision: int = Field(ge=0)
    document_sha256: Sha256
    later: bool


ChainRecord = Annotated[ChainBegun | ChainResult, Field(discriminator="kind")]
RECORD: TypeAdapter[ChainBegun | ChainResult] = TypeAdapter(ChainRecord)
