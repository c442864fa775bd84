"""Which files are a bay, by its configuration, and what of it is not copied."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from acquire.methods import kept_file
from config.files import Kind, is_shipped
from config.settings import Settings
from ringtrue.archive.manifest import DATABASES, Role, is_within


@dataclass(frozen=True, slots=True)
class Source:
    """One file to be copied. name, place: see manifest.Part."""

    path: Path
    name: str
    role: Role
    place: str | None

    @property
    def is_database(self) -> bool:
        return self.role in DATABASES


def sources(config: Path, settings: Settings) -> tuple[list[Source], list[str]]:
    """What is copied, in that order, and in words what is not.

    The records before the journal: what comes to them in between is in the journal, and is offered to them
    again after it was put back. The other way round they could know more than the truth. Photos after the
    journal: what it names of them lay there before.
    """
    folder = config.absolute().parent
    found = [Source(config, f"configuration/{config.name}", "configuration", config.name)]
    found += _own_files(folder, settings)
    left_out = []
    records = sqlite_file(settings.records.url)
    if records is None:
        left_out.append(
            "records: they are in a server's database, which its own dump tool copies (PostgreSQL: pg_dump)"
        )
    elif not records.is_file():
        left_out.append(f"records: there are none yet at {records}")
    else:
        found.append(Source(records, "records.db", "records", place_of(records, folder)))
    journal = settings.journal.path
    found.append(Source(journal, "journal.db", "journal", place_of(journal, folder)))
    found += _photos(settings.photos.folder, folder)
    left_out += [
        f"{source.path} is in the copy, but not put back: it lies outside of the configuration's folder"
        for source in found
        if source.place is None and not _ships(source.path)
    ]
    if (key := settings.journal.key_file).exists():
        left_out.append(
            f"the key {key} stays where it is: without it a bay makes another, and begins a new chain"
        )
    left_out += [
        f"{name} {key}: {value} stays where it is"
        for name, section in (("mqtt", settings.mqtt), ("bridge", settings.bridge))
        for key in ("password_file", "ca_file", "certificate", "key")
        if (value := getattr(section, key)) is not None
    ]
    return found, left_out


def sqlite_file(url: str) -> Path | None:
    """The file of records that SQLite keeps; None where they are elsewhere."""
    scheme, _, name = url.partition(":///")
    is_file = urlsplit(url).scheme.startswith("sqlite") and name and name != ":memory:"
    return Path(name.partition("?")[0]) if scheme and is_file else None


def place_of(path: Path, folder: Path) -> str:
    """From the configuration's folder where it lies in it, else as it is."""
    path = Path(os.path.normpath(path))
    return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else str(path)


def _own_files(folder: Path, settings: Settings) -> Iterator[Source]:
    method = Path(settings.method.file)
    yield Source(method, f"method/{method.name}", "method", _own_place(method, folder))
    handed_out = kept_file(settings.journal.path)
    if handed_out.exists():
        yield Source(handed_out, f"method/{handed_out.name}", "method", _own_place(handed_out, folder))
    own = dict.fromkeys(Path(gauge.profile) for gauge in settings.gauge)
    for number, path in enumerate((path for path in own if not _ships(path)), start=1):
        yield Source(path, f"gauges/{number}-{path.name}", "gauge", _own_place(path, folder))


def _photos(photos: Path, folder: Path) -> Iterator[Source]:
    for path in sorted(photos.glob("*.jpg")):
        yield Source(path, f"photos/{path.name}", "photo", _own_place(path, folder))


def _own_place(path: Path, folder: Path) -> str | None:
    place = place_of(path, folder)
    return place if is_within(place) and not _ships(path) else None


def _ships(path: Path) -> bool:
    kinds: tuple[Kind, ...] = ("methods", "gauges")
    return any(is_shipped(path, kind) for kind in kinds)
