"""Sessions, and the file in which they outlive the pages' process: hashes of their tokens, for its owner
alone to read."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import structlog
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from display.web.people import Role

Hash = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


@dataclass(slots=True)
class Session:
    """Somebody who was let in. key: tells sessions apart without being a secret. proof: a hash of what they
    were let in by then; is_proven: whether that was held against what is asked now. Times by the doors'
    clock."""

    person: str
    role: Role
    proof: str
    key: str
    begun_s: float
    seen_s: float
    is_proven: bool = True


class Kept(BaseModel):
    """A session as it is kept. token: its hash; begun, seen: seconds since 1970 (UTC)."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    token: Hash
    person: str
    role: Role
    proof: Hash
    key: str
    begun: float
    seen: float


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    sessions: tuple[Kept, ...]


class SessionFile:
    """Where they are kept. What cannot be read or written is told in the log, and costs sessions alone."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._log = structlog.get_logger()

    def read(self) -> tuple[Kept, ...]:
        """Those of before; none where there is no file."""
        try:
            return _File.model_validate_json(self._path.read_bytes()).sessions
        except FileNotFoundError:
            return ()
        except (OSError, ValidationError) as error:
            why = error.strerror if isinstance(error, OSError) else "it is damaged"
            self._log.warning("sessions of before are not gone on with", file=str(self._path), why=why)
            return ()

    def write(self, sessions: Iterable[Kept]) -> None:
        """Anew, whole or not at all."""
        fresh = self._path.with_name(f".{self._path.name}.new")
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            fresh.unlink(missing_ok=True)
            with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
                out.write(_File(sessions=tuple(sessions)).model_dump_json())
            fresh.replace(self._path)
        except OSError as error:
            self._log.warning("sessions are not kept", file=str(self._path), why=error.strerror)
