"""A workshop's own authority, and the certificates that it gives to its machines and programs."""

from __future__ import annotations

from pathlib import Path

from tests.link.certificates import certificate, write_pem


class Authority:
    """`ca.crt` in a folder, and for each name `NAME.crt` and `NAME.key`, with - in place of /."""

    def __init__(self, folder: Path, name: str = "the quarry's authority") -> None:
        folder.mkdir(exist_ok=True)
        self.folder = folder
        self._issued = certificate(name)
        write_pem(folder, "ca", self._issued)
        self.file = folder / "ca.crt"

    def issue(self, name: str, *, has_ended: bool = False) -> tuple[Path, Path]:
        """Certificate and key of one, whose common name it is; one that ended is another."""
        stem = name.replace("/", "-") + ("-ended" if has_ended else "")
        if not (self.folder / f"{stem}.crt").exists():
            write_pem(self.folder, stem, certificate(name, self._issued, has_ended=has_ended))
        return self.folder / f"{stem}.crt", self.folder / f"{stem}.key"
