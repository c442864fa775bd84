"""A copy of a bay back into its place: unpacked beside, looked at, and only then renamed."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from acquire.journal.file import lock_beside
from ringtrue.archive.databases import go_on_from_copy
from ringtrue.archive.errors import BackupError
from ringtrue.archive.manifest import DATABASES, Manifest, Part, Role
from ringtrue.archive.placing import put_in_place
from ringtrue.archive.unpacking import check_database, read_manifest, unpack

ORDER: tuple[Role, ...] = ("method", "gauge", "photo", "records", "journal", "configuration")
"""The configuration last: until it is there no daemon begins."""


@dataclass(frozen=True, slots=True)
class Restored:
    """What was done. placed: by the name in the copy; kept: what lay there, under its new name."""

    manifest: Manifest
    placed: Mapping[str, Path]
    kept: Sequence[Path]


def check(archive: Path) -> Manifest:
    """Look at a copy, its databases too. Raises as `restore` does; changes nothing."""
    manifest = read_manifest(archive)
    with tempfile.TemporaryDirectory(prefix="ringtrue-restore-") as folder:
        to = {part.name: Path(folder) / str(n) for n, part in enumerate(manifest.parts)}
        unpack(archive, manifest, to)
        for part in manifest.parts:
            check_database(archive, part, to[part.name])
    return manifest


def restore(archive: Path, config: Path, *, replace: bool) -> Restored:
    """Put a bay back, its configuration as `config`, everything else from that file's folder.

    replace: what is there already gives way, and is kept under another name. Raises JournalError where a
    daemon holds the journal, ArchiveDamagedError, BackupError, OSError; then everything is as it was.
    """
    manifest = read_manifest(archive)
    places = {part.name: _place(part, config) for part in manifest.parts if part.place is not None}
    parts = {part.name: part for part in manifest.parts}
    places = {name: place for name, place in places.items() if not _is_same(parts[name], place)}
    there = [place for place in places.values() if place.exists()]
    if there and not replace:
        raise BackupError(
            f"{', '.join(map(str, there))}: there already, and nothing was changed; --replace puts the copy "
            "in their place and keeps them under another name, --config names another folder's file"
        )
    unpack(archive, manifest, {})
    by_role = sorted((parts[name] for name in places), key=lambda part: ORDER.index(part.role))
    suffix = f".before-{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}"
    with ExitStack() as undo:
        journal = next(places[part.name] for part in by_role if part.role == "journal")
        undo.callback(os.close, lock_beside(journal))
        staged = {}
        for name, place in places.items():
            place.parent.mkdir(parents=True, exist_ok=True)
            folder = undo.enter_context(
                tempfile.TemporaryDirectory(dir=place.parent, prefix=".ringtrue-restore-")
            )
            staged[name] = Path(folder) / place.name
        unpack(archive, manifest, staged)
        for part in by_role:
            check_database(archive, part, staged[part.name])
            if part.role == "journal":
                _queue(staged[part.name], archive)
        kept = put_in_place([(staged[part.name], places[part.name]) for part in by_role], suffix)
    return Restored(manifest, places, kept)


def _is_same(part: Part, place: Path) -> bool:
    """Whether a file is there already as it was copied; of a database that is not asked."""
    return (
        part.role not in DATABASES
        and place.is_file()
        and hashlib.sha256(place.read_bytes()).hexdigest() == part.sha256
    )


def _place(part: Part, config: Path) -> Path:
    config = config.absolute()
    if part.role == "configuration":
        return config.resolve()
    return Path(os.path.realpath(config.parent / (part.place or "")))


def _queue(journal: Path, archive: Path) -> None:
    try:
        go_on_from_copy(journal)
        with journal.open("rb") as file:
            os.fsync(file.fileno())
    except sqlite3.Error as error:
        raise BackupError(
            f"{archive}: its journal cannot be written here ({error}); free some space"
        ) from error
