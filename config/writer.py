"""The record writer's configuration: where messages come from, where they are kept, whose keys are known."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal
from urllib.parse import urlsplit

from pydantic import AfterValidator, Field, SecretStr, field_validator, model_validator

from config.errors import ConfigError, Problem
from config.section import FilePath, Section, mistake
from config.settings import known_broker
from config.stream import StreamSettings
from config.toml import read_toml, spelled
from config.whose import refuse_other

SCHEMA: Literal["ringtrue/writer/1"] = "ringtrue/writer/1"
DATABASE_URL = "postgresql+psycopg://user@host/database"
"""How the database's address is written."""

_PUBLIC_KEY = re.compile(r"[0-9a-f]{64}")


def _name(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9._-]{1,60}", text):
        raise ValueError("1 to 60 letters, digits and . _ -")
    return text


def _key(text: str) -> str:
    if not _PUBLIC_KEY.fullmatch(text):
        raise ValueError("a bay's public key, 64 hexadecimal digits, as its topic checkpoint tells it")
    return text


Name = Annotated[str, AfterValidator(_name)]
Key = Annotated[str, AfterValidator(_key)]


class MqttSource(Section):
    """A broker that all bays publish to, by shared subscription: to some hundred bays."""

    kind: Literal["mqtt"]
    """An MQTT 5 broker."""
    url: str
    """`mqtt://host[:port]` or `mqtts://host[:port]`."""
    username: str | None = None
    """If it wants one."""
    password_file: FilePath | None = None
    """Its first line is the password."""
    ca_file: FilePath | None = None
    """mqtts: the authority to trust (PEM); without it the system's."""
    certificate: FilePath | None = None
    """mqtts: the certificate (PEM) that this writer shows, where the broker asks for one."""
    key: FilePath | None = None
    """mqtts: its private key (PEM)."""
    group: Name = "ringtrue"
    """Writers of one group share the messages; each message goes to one of them."""
    client: Name | None = None
    """This writer's name at the broker, no other's: the broker keeps what comes for it while it is away.
    Left out: `writer-` and the machine's name."""
    session_h: Annotated[int, Field(strict=True, ge=1, le=8760)] = 72
    """For how long the broker keeps it, h."""

    @field_validator("url")
    @classmethod
    def _broker(cls, url: str) -> str:
        return known_broker(url)

    @model_validator(mode="after")
    def _whole(self) -> MqttSource:
        if (self.certificate is None) != (self.key is None):
            lacks = "key" if self.key is None else "certificate"
            raise mistake(lacks, "nothing", "a file too: a certificate and its key go together")
        if not self.url.startswith("mqtts:") and (self.ca_file or self.certificate):
            raise mistake("url", spelled(self.url), "mqtts://…, as there are certificates")
        if self.password_file is not None and self.username is None:
            raise mistake("username", "nothing", "whose password password_file names")
        return self


class WriterRecords(Section):
    """The database that results are kept in."""

    url: str
    """`postgresql+psycopg://user@host/database`, without a password."""
    password_file: FilePath | None = None
    """Its first line is the password."""
    password: SecretStr | None = None
    """The password itself; meant for the environment."""

    @field_validator("url")
    @classmethod
    def _database(cls, url: str) -> str:
        try:
            parts = urlsplit(url)
            good = parts.scheme == "postgresql+psycopg" and parts.path not in ("", "/")
            bare = parts.password is None and "password" not in parts.query
            good = good and parts.port != 0  # asked for, as it may be no number
        except ValueError:
            good, bare = False, True
        if not good:
            raise ValueError(DATABASE_URL)
        if not bare:  # the text is repeated where a mistake is told: the password must not be
            raise mistake("", "a password in it", f"{DATABASE_URL}; password_file names the password")
        return url

    @model_validator(mode="after")
    def _one_password(self) -> WriterRecords:
        if self.password is not None and self.password_file is not None:
            raise mistake("password_file", "a file, and password too", "one of the two")
        return self


class BaysSettings(Section):
    """Which key signs for which bay. A bay's key is the one that its topic `checkpoint` tells."""

    trust: Literal["first", "pinned"] = "first"
    """`first`: of a bay that has no keys here the first that is seen is kept, and any other refused;
    `pinned`: only bays that have keys here are known."""
    keys: dict[str, tuple[Key, ...]] = Field(default_factory=dict)
    """By `SITE/BAY`: the public keys that sign for it."""

    @field_validator("keys")
    @classmethod
    def _named(cls, keys: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
        for name, known in keys.items():
            if name.count("/") != 1 or not all(name.split("/")):
                raise mistake(name, "a name that is none of a bay's", '"SITE/BAY"')
            if not known:
                raise mistake(name, "no key", "the bay's public key, in [ ]")
        return keys


class RefusedSettings(Section):
    """How much of what is refused is kept. Beyond it the oldest is let go, counted and told; last what may
    still be taken up, as of a newer ringtrue or of a key that is not known."""

    most: Annotated[int, Field(strict=True, ge=100, le=100_000_000)] = 100_000
    """Messages."""
    most_mb: Annotated[int, Field(strict=True, ge=1, le=1_000_000)] = 1000
    """MB of them, as they are stored (compressed)."""


class WriterSettings(Section):
    """The whole file."""

    document_schema: Literal["ringtrue/writer/1"] = Field(alias="schema")
    """Says that this file is a writer's."""
    source: Annotated[MqttSource | StreamSettings, Field(discriminator="kind")]
    """Where messages come from."""
    records: WriterRecords
    """Where they are kept."""
    bays: BaysSettings = BaysSettings()
    """Whose keys are known."""
    refused: RefusedSettings = RefusedSettings()
    """What is not taken."""

    def files(self) -> dict[str, Path]:
        """The files that it names, by their keys."""
        sections = {"source": self.source, "records": self.records}
        return {
            f"{name}.{key}": value
            for name, section in sections.items()
            for key in type(section).model_fields
            if isinstance(value := getattr(section, key), Path)
        }


def read_writer(path: Path, environ: Mapping[str, str]) -> WriterSettings:
    """A writer's configuration. Raises ConfigError with all its mistakes."""
    if not path.exists():
        wanted = "the writer's configuration (docs/fleet/writer.md shows one; --config FILE names another)"
        raise ConfigError([Problem(str(path), None, "file", "no such file", wanted)])
    try:
        return read_toml(path, WriterSettings, overrides=environ)
    except ConfigError:
        refuse_other(path, "writer's configuration")
        raise
