"""A bay's files into one, beside a running daemon: written under another name, read back, then renamed."""

from __future__ import annotations

import hashlib
import io
import os
import sqlite3
import tarfile
import tempfile
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from acquire.journal.reader import JournalReader
from config.settings import Settings
from config.synced import sync_folder
from contract.wire import rfc3339
from ringtrue.archive.databases import copy_database, what_is_wrong
from ringtrue.archive.errors import BackupError
from ringtrue.archive.manifest import DIGEST, NAME, SCHEMA, Manifest, Part, digest_line
from ringtrue.archive.sources import Source, sources
from ringtrue.archive.unpacking import read_manifest, unpack

MODE = 0o600
"""The configuration may hold secrets."""


def back_up(config: Path, settings: Settings, archive: Path, *, software: str) -> Manifest:
    """Copy a bay into `archive`, which must not exist.

    Raises JournalError where there is no journal of ours, BackupError where a part cannot be copied or is
    damaged, OSError; then there is no archive.
    """
    JournalReader(settings.journal.path).close()
    if archive.exists():
        raise BackupError(f"{archive}: exists already, and a copy overwrites none; name another file")
    if not archive.parent.is_dir():
        raise BackupError(f"{archive.parent}: no such folder; make it first, or put in the stick it is on")
    found, left_out = sources(config, settings)
    now = datetime.now(UTC)
    with tempfile.TemporaryDirectory(dir=archive.parent, prefix=".ringtrue-backup-") as folder:
        partial = Path(folder) / archive.name
        with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT, MODE), "wb") as file:
            with tarfile.open(fileobj=file, mode="w", format=tarfile.PAX_FORMAT) as tar:
                manifest = Manifest(
                    document_schema=SCHEMA, software=software, made=rfc3339(now),
                    site=settings.bay.site, bay=settings.bay.name,
                    parts=tuple(_add_all(tar, found, Path(folder), now)), left_out=tuple(left_out),
                )  # fmt: skip
                said = manifest.model_dump_json(by_alias=True, indent=1).encode()
                for name, data in ((NAME, said), (DIGEST, digest_line(said))):
                    _add(tar, name, io.BytesIO(data), len(data), now)
            file.flush()
            os.fsync(file.fileno())
        unpack(partial, read_manifest(partial), {})
        partial.rename(archive)
    sync_folder(archive.parent)
    return manifest


def _add_all(tar: tarfile.TarFile, found: Sequence[Source], folder: Path, now: datetime) -> Iterator[Part]:
    for source in found:
        copy = _copied(source, folder) if source.is_database else source.path
        with copy.open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            digest = _add(tar, source.name, file, size, now)
        yield Part(name=source.name, role=source.role, place=source.place, size=size, sha256=digest)
        if source.is_database:
            copy.unlink()


def _copied(source: Source, folder: Path) -> Path:
    to = folder / source.name
    try:
        copy_database(source.path, to)
    except sqlite3.Error as error:
        raise BackupError(
            f"{source.path}: cannot be copied ({error}); look at the disks, and free space for the copy"
        ) from error
    if (wrong := what_is_wrong(to)) is not None:
        raise BackupError(
            f"{source.path}: is damaged ({wrong}), and no copy was made of it; earlier copies may be whole"
        )
    return to


def _add(tar: tarfile.TarFile, name: str, file: IO[bytes], size: int, now: datetime) -> str:
    info = tarfile.TarInfo(name)
    info.size, info.mode, info.mtime = size, MODE, int(now.timestamp())
    reading = _Hashed(file)
    tar.addfile(info, reading)
    return reading.digest.hexdigest()


class _Hashed(io.RawIOBase):
    """A file, and the SHA-256 of what was read of it."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self.digest = hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        data = self._file.read(size)
        self.digest.update(data)
        return data
