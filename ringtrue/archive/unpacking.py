"""Reading a copy of a bay: every part against its manifest, whatever the file is."""

from __future__ import annotations

import hashlib
import os
import tarfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from pydantic import ValidationError

from ringtrue.archive.databases import refuse_journal, refuse_records, what_is_wrong
from ringtrue.archive.errors import ArchiveDamagedError, BackupError
from ringtrue.archive.manifest import DATABASES, DIGEST, LARGEST, NAME, SCHEMA, Manifest, Part, digest_line

CHUNK = 1 << 20


def read_manifest(archive: Path) -> Manifest:
    """What it says it holds, and does by name and size.

    Raises ArchiveDamagedError, BackupError where it is of a newer version, or OSError.
    """
    sizes: dict[str, int] = {}
    said = {NAME: b"", DIGEST: b""}
    with _opened(archive) as tar:
        for member in tar:
            if not member.isfile() or member.name in sizes:
                raise ArchiveDamagedError(archive, f"{member.name} is no plain file, or there twice")
            sizes[member.name] = member.size
            if member.name in said and member.size <= LARGEST:
                said[member.name] = _file(tar, member).read()
    for name, data in said.items():
        if not data:
            raise ArchiveDamagedError(archive, f"its {name} is missing")
        del sizes[name]
    if said[DIGEST] != digest_line(said[NAME]):
        raise ArchiveDamagedError(archive, f"its {NAME} was changed: the SHA-256 differs")
    manifest = _parsed(archive, said[NAME])
    expected = {part.name: part.size for part in manifest.parts}
    for name in sorted(sizes.keys() | expected.keys()):
        if sizes.get(name) != expected.get(name):
            found = f"found {sizes.get(name, 'nothing')}, expected {expected.get(name, 'nothing')}"
            raise ArchiveDamagedError(archive, f"{name}: {found} bytes")
    return manifest


def unpack(archive: Path, manifest: Manifest, to: Mapping[str, Path]) -> None:
    """Compare every part's SHA-256, and write those named in `to` there, on the disk.

    Raises ArchiveDamagedError or OSError, with some of them written.
    """
    parts = {part.name: part for part in manifest.parts}
    with _opened(archive) as tar:
        for member in tar:
            if member.name in parts:
                digest = _written(_file(tar, member), to.get(member.name))
                if digest != parts.pop(member.name).sha256:
                    raise ArchiveDamagedError(
                        archive, f"{member.name} is not what was copied: its SHA-256 differs"
                    )
    if parts:
        raise ArchiveDamagedError(archive, f"{', '.join(sorted(parts))} missing")


def check_database(archive: Path, part: Part, file: Path) -> None:
    """Raises where an unpacked database is not whole, or none that this version can read."""
    if part.role not in DATABASES:
        return
    if (wrong := what_is_wrong(file)) is not None:
        raise ArchiveDamagedError(archive, f"{part.name}: {wrong}")
    refuse = refuse_journal if part.role == "journal" else refuse_records
    refuse(file, Path(f"{archive}: {part.name}"))


def _parsed(archive: Path, said: bytes) -> Manifest:
    try:
        return Manifest.model_validate_json(said)
    except ValidationError as error:
        first = error.errors()[0]
        if first["loc"] == ("schema",) and str(first["input"]).startswith(SCHEMA.rpartition("/")[0]):
            raise BackupError(
                f"{archive}: a copy of the kind {first['input']}, and this ringtrue knows {SCHEMA}: "
                "restore with the newer ringtrue that made it"
            ) from None
        place = ".".join(str(part) for part in first["loc"]) or NAME
        raise ArchiveDamagedError(archive, f"{NAME}: {place}: {first['msg']}") from None


@contextmanager
def _opened(archive: Path) -> Iterator[tarfile.TarFile]:
    with archive.open("rb") as file:
        try:
            with tarfile.open(fileobj=file, mode="r:") as tar:
                yield tar
        except (tarfile.TarError, EOFError, ValueError, OverflowError) as error:
            raise ArchiveDamagedError(archive, str(error) or "it ends too early") from error


def _file(tar: tarfile.TarFile, member: tarfile.TarInfo) -> IO[bytes]:
    file = tar.extractfile(member)
    if file is None:
        raise tarfile.ReadError(f"{member.name} is no plain file")
    return file


def _written(source: IO[bytes], to: Path | None) -> str:
    digest = hashlib.sha256()
    out = (
        os.open(to, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW, 0o640) if to is not None else None
    )
    # No path of a file to be made.
    with os.fdopen(out, "wb") if out is not None else open(os.devnull, "wb") as file:  # noqa: PTH123
        while data := source.read(CHUNK):
            digest.update(data)
            file.write(data)
        if out is not None:
            file.flush()
            os.fsync(out)
    return digest.hexdigest()
