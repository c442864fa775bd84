"""Where the pages for a browser are, and who is let in."""

from __future__ import annotations

from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from config.section import FilePath, Section, mistake


class DisplaySettings(Section):
    """The pages for a browser: the wall, the bench, the history. With `listen` the daemon starts them."""

    listen: str | None = None
    """HOST:PORT where the pages are; left out: none. Beyond this machine only with certificate, key and
    people."""
    certificate: FilePath | None = None
    """The chain of certificates (PEM) for pages by https."""
    key: FilePath | None = None
    """Its private key (PEM)."""
    people: FilePath | None = None
    """The file of people who may use the pages, each with a role and a password; `ringtrue display --add`
    writes it. Without it a name and the broker's credential are asked for, on this machine only."""

    sessions: FilePath = Field(default=Path("var/sessions.json"), validate_default=True)
    """The file in which sessions outlive a restart of the pages: who has entered, hashes of their tokens, and
    when they end; readable by its owner alone."""

    @field_validator("listen")
    @classmethod
    def _address(cls, listen: str | None) -> str | None:
        if listen is None:
            return None
        try:
            parts = urlsplit(f"//{listen}")
            good = bool(parts.hostname) and parts.port is not None and parts.username is None
            bare = not (parts.path or parts.query or parts.fragment)
        except ValueError:
            good = bare = False
        if not (good and bare):
            raise ValueError("HOST:PORT such as 127.0.0.1:8080")
        return listen

    @model_validator(mode="after")
    def _safe(self) -> DisplaySettings:
        if (self.certificate is None) != (self.key is None):
            has, lacks = ("certificate", "key") if self.key is None else ("key", "certificate")
            raise mistake(lacks, "nothing", f"a file, beside {has}")
        if self.listen is not None and not self.is_loopback:
            for name in ("certificate", "key", "people"):
                if getattr(self, name) is None:
                    what = "a file: beyond this machine the pages need certificate, key and people"
                    raise mistake(name, "nothing", what)
        return self

    @property
    def address(self) -> tuple[str, int]:
        """Host and port. Only where `listen` is given."""
        parts = urlsplit(f"//{self.listen}")
        return parts.hostname or "", parts.port or 0

    @property
    def is_loopback(self) -> bool:
        """Whether only this machine itself can reach them."""
        host = self.address[0]
        try:
            return host == "localhost" or ip_address(host).is_loopback
        except ValueError:  # another name: whoever keeps the names says what it is
            return False
