"""Who may do what: the file of people, and what a password is held against."""

from __future__ import annotations

import hashlib
import hmac
import os
import re
from base64 import b64decode, b64encode
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal, Self

import structlog
from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from config.errors import RingtrueError
from config.toml import read_toml
from contract.commands import Text

Role = Literal["look", "work", "own"]
"""Read history and reports; also inspect; also decide against a verdict, and own the method."""
ROLES: tuple[Role, ...] = ("look", "work", "own")

PASSWORD_MIN = 12
"""Letters of a password at least (OWASP ASVS 4.0.3, 2.1.1)."""
PASSWORD_MAX = 128
# Scrypt's cost: 16 MiB and some 50 ms a try (OWASP's password storage cheat sheet: N = 2^17 is 128 MiB, too
# much beside a daemon; p = 5 at 2^14 is given there as an equal).
N, R, P = 2**14, 8, 5
_SCHEME = "scrypt"
# As many as others may have been made with: no more memory than is there, and none that would fail later.
_COST = "(?:4096|8192|16384|32768|65536)"
_HASH = re.compile(rf"{_SCHEME}\${_COST}\$8\$[1-9]\$[A-Za-z0-9+/]{{22}}==\$[A-Za-z0-9+/]{{86}}==")


class PeopleError(RingtrueError):
    """The file of people cannot be used or written; says what to do."""


class Person(BaseModel):
    """One person: as written to the record, what they may do, and the hash of their password."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: Text
    role: Role
    password: Annotated[str, Field(max_length=300)]

    @field_validator("password")
    @classmethod
    def _hashed(cls, text: str) -> str:
        if _HASH.fullmatch(text) is None:
            raise ValueError("a hash as `ringtrue display --add` writes it, never the password itself")
        return text


class People(BaseModel):
    """The file: `[[person]]` tables."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    person: tuple[Person, ...] = ()

    @model_validator(mode="after")
    def _told_apart(self) -> Self:
        names = [person.name.casefold() for person in self.person]
        if len(set(names)) < len(names):
            raise ValueError("each name once")
        return self

    def named(self, name: str) -> Person | None:
        """Who goes by this name, in capitals or not."""
        plain = " ".join(name.split()).casefold()
        return next((one for one in self.person if one.name.casefold() == plain), None)


def read_people(file: Path) -> People:
    """All of them. Raises ConfigError, naming line and key, or PeopleError."""
    if not file.exists():
        raise PeopleError(f"[display] people: {file} is not there: `ringtrue display --add NAME` makes it")
    return read_toml(file, People)


class PeopleFile:
    """The file as it is now: read again where it was written anew. Raises ConfigError or PeopleError where it
    cannot be read at the beginning; where it cannot be later, nobody is let in until it can."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._seen = self._written()
        self._people = read_people(file)

    def now(self) -> People:
        """All of them."""
        written = self._written()
        if written != self._seen:
            self._seen = written
            try:
                self._people = read_people(self._file)
            except RingtrueError as error:
                self._people = People()
                why = str(error).replace("\n", "; ")
                structlog.get_logger().error(
                    "nobody is let in until the file of people is mended", reason=why
                )
        return self._people

    def _written(self) -> tuple[int, int, int] | None:
        try:
            found = self._file.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino


def with_person(people: People, name: str, role: Role, password: str) -> People:
    """With one more, or with another role and password. Raises PeopleError."""
    if not PASSWORD_MIN <= len(password) <= PASSWORD_MAX:
        raise PeopleError(f"a password has {PASSWORD_MIN} to {PASSWORD_MAX} letters: choose a longer one")
    plain = " ".join(name.split())
    if not (plain.isprintable() and 0 < len(plain) <= 100):
        raise PeopleError("a name has 1 to 100 letters, all of which can be seen: write it as it is signed")
    made = Person(name=plain, role=role, password=hashed(password))
    others = [one for one in people.person if one.name.casefold() != plain.casefold()]
    return People(person=(*others, made))


def write_people(file: Path, people: People) -> None:
    """Anew, readable by its owner alone. Raises PeopleError."""
    lines = ["# Who may use the pages of this bay. Written by `ringtrue display --add`."]
    for one in people.person:
        lines += ["", "[[person]]", *(f"{key} = {_quoted(str(value))}" for key, value in one)]
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        fresh = file.with_name(f".{file.name}.new")
        fresh.unlink(missing_ok=True)
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
            out.write("\n".join(lines) + "\n")
        fresh.replace(file)
    except OSError as error:
        raise PeopleError(f"{file} cannot be written ({error.strerror}): choose another folder") from None


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def hashed(password: str) -> str:
    """Of a password: scheme, its cost, salt, hash."""
    salt = os.urandom(16)
    found = hashlib.scrypt(password.encode(), salt=salt, n=N, r=R, p=P, maxmem=2**26)
    return "$".join([_SCHEME, str(N), str(R), str(P), b64encode(salt).decode(), b64encode(found).decode()])


def is_password(password: str, kept: str) -> bool:
    """Whether this is the password, in a time that does not tell."""
    _, n, r, p, salt, wanted = kept.split("$")
    found = hashlib.scrypt(
        password.encode()[: 4 * PASSWORD_MAX],
        salt=b64decode(salt),
        n=int(n),
        r=int(r),
        p=int(p),
        maxmem=2**27,
    )
    return hmac.compare_digest(found, b64decode(wanted))


def may(role: Role | None, needed: Role, roles: Sequence[Role] = ROLES) -> bool:
    """Whether somebody of a role may do what needs another: each may what those before it may."""
    return role is not None and roles.index(role) >= roles.index(needed)
