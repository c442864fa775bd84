"""What a copy of a bay says it holds: the last in the file, so that without it the copy is not whole."""

from __future__ import annotations

import hashlib
from pathlib import PurePosixPath
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

SCHEMA: Literal["ringtrue/backup/1"] = "ringtrue/backup/1"
NAME = "manifest.json"
DIGEST = "manifest.sha256"
"""Beside it, as sha256sum writes it."""
LARGEST = 50_000_000
"""Bytes of a manifest: one of a bay with a hundred thousand photos has half of it."""

Role = Literal["configuration", "method", "gauge", "journal", "records", "photo"]
DATABASES: tuple[Role, ...] = ("journal", "records")


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class Part(_Table):
    """One file of the copy.

    name: its name in the copy. place: where it lay, from the configuration's folder; None: it ships, or lay
    elsewhere, and is in the copy to look at. Only a database's place may be outside of that folder.
    """

    name: Annotated[str, Field(pattern=r"^[^/\x00]+(/[^/\x00]+)?$")]
    role: Role
    place: Annotated[str, Field(min_length=1, pattern=r"^[^\x00]*$")] | None
    size: Annotated[int, Field(ge=0)]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]

    @model_validator(mode="after")
    def _within(self) -> Part:
        if self.place is not None and self.role not in DATABASES and not is_within(self.place):
            raise ValueError(f"{self.name} would be put outside of the configuration's folder")
        return self


class Manifest(_Table):
    """All of it. made: UTC (RFC 3339). left_out: in words, what is not in the copy."""

    document_schema: Literal["ringtrue/backup/1"] = Field(alias="schema")
    software: str
    made: str
    site: str
    bay: str
    parts: tuple[Part, ...]
    left_out: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _one_each(self) -> Manifest:
        names = [part.name for part in self.parts]
        places = [part.place for part in self.parts if part.place is not None]
        if len({*names, NAME, DIGEST}) < len(names) + 2 or len(set(places)) < len(places):
            raise ValueError("it names a part twice")
        roles = [part.role for part in self.parts if part.place is not None]
        if any(roles.count(role) != 1 for role in ("configuration", "journal")) or roles.count("records") > 1:
            raise ValueError(
                "it must name one configuration, one journal and at most one database of records"
            )
        return self


def is_within(place: str) -> bool:
    """Whether a place stays in the folder that it is taken from."""
    path = PurePosixPath(place)
    return not path.is_absolute() and ".." not in path.parts and path.parts != ()


def digest_line(said: bytes) -> bytes:
    """What is in the copy beside a manifest."""
    return f"{hashlib.sha256(said).hexdigest()}  {NAME}\n".encode()
