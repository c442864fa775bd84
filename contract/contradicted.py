"""What is said of an inspection of which bays issued results that contradict each other."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from contract.wire import Message

CONTRADICTED_SCHEMA: Literal["ringtrue/contradicted/1"] = "ringtrue/contradicted/1"


class Contradicted(Message):
    """No result of this inspection counts, whatever was issued: of the same revision bays issued another one
    each, and one alone is on record. bays: those that did, as SITE/BAY. why: the same, for a person."""

    document_schema: Literal["ringtrue/contradicted/1"] = Field(alias="schema", default=CONTRADICTED_SCHEMA)
    inspection: str
    bays: tuple[str, ...]
    why: str
