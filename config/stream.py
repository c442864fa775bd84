"""Where a writer finds a cluster of brokers that bays bridge into."""

from __future__ import annotations

import re
from typing import Annotated, Literal
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from config.section import FilePath, Section, mistake
from config.toml import spelled

SERVER_URL = "tls://host:4222 (or all of them nats://host:4222)"
"""How a server's address is written."""


class StreamSettings(Section):
    """A cluster of NATS servers that all bays bridge into: beyond some hundred bays."""

    kind: Literal["stream"]
    """A cluster of brokers."""
    servers: Annotated[tuple[str, ...], Field(min_length=1)]
    """Where its nodes take writers, each `tls://host[:4222]` or all `nats://…`; all nodes, as any may be
    away."""
    username: str | None = None
    """If it wants one; with a certificate its subject is the user."""
    password_file: FilePath | None = None
    """Its first line is the password."""
    ca_file: FilePath | None = None
    """With tls: the authority to trust (PEM); without it the system's."""
    certificate: FilePath | None = None
    """With tls: the writer's own certificate (PEM)."""
    key: FilePath | None = None
    """The certificate's key (PEM), without a password."""
    consumer: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{1,32}$")] = "writer"
    """Its name in the cluster: writers of one name share what comes; what none of them has acknowledged is
    kept. One of another name gets all of it too."""
    client: Annotated[str, Field(pattern=r"^[A-Za-z0-9._-]{1,60}$")] | None = None
    """This writer's name, as the cluster's own tools tell it; left out: the consumer's."""
    keep_gb: Annotated[float, Field(strict=True, ge=0.001, le=10_000, allow_inf_nan=False)] = 10.0
    """How much that no writer has acknowledged the cluster keeps; what comes beyond stays with the bays until
    there is room. At most half of what a node may store (`max_file_store`): one that exceeds that stops."""
    replicas: Annotated[int, Field(strict=True, ge=1, le=5)] = 3
    """On how many nodes what comes is kept; 1 is for trials with a single server."""

    @field_validator("servers")
    @classmethod
    def _known(cls, servers: tuple[str, ...]) -> tuple[str, ...]:
        for server in servers:
            try:
                parts = urlsplit(server)
                good = parts.scheme in ("tls", "nats") and bool(parts.hostname) and parts.port != 0
            except ValueError:
                good = False
            if not (good and re.fullmatch(r"[a-z]+://[A-Za-z0-9._:\[\]-]+/?", server)):
                raise ValueError(SERVER_URL)
        if len({urlsplit(server).scheme for server in servers}) > 1:
            raise ValueError(SERVER_URL)
        return servers

    @model_validator(mode="after")
    def _whole(self) -> StreamSettings:
        if (self.certificate is None) != (self.key is None):
            raise mistake("certificate", "one of the two", "certificate and key, or neither")
        if not self.is_secured and (self.ca_file or self.certificate):
            raise mistake("servers", spelled(self.servers[0]), "tls://…, as there are certificates")
        if (self.username is None) != (self.password_file is None):
            raise mistake("username", "one of the two", "username and password_file, or neither")
        return self

    @property
    def is_secured(self) -> bool:
        """Whether it goes by TLS."""
        return self.servers[0].startswith("tls:")
