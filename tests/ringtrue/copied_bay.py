"""A bay with one signed inspection, and copies of it that somebody has changed."""

from __future__ import annotations

import hashlib
import io
import json
import resource
import sqlite3
import tarfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from acquire.journal.reader import JournalReader
from config.files import shipped
from records.store import Store
from ringtrue.archive.manifest import DIGEST, NAME, digest_line
from ringtrue.cli import main
from tests.acquire.kept_journal import make

DATA = Path(__file__).parents[1] / "acquire/data"

CONFIG = """\
[bay]
site = "greywacke"
name = "bay-2"
[method]
file = "own/method.toml"
[[gauge]]
id = "indicator-1"
profile = "own/indicator.toml"
port = "/dev/indicator"
resolution_mm = 0.001
mpe_mm = 0.004
[angle]
source = "marks"
marks_deg = [0, 120, 240]
"""


def make_bay(folder: Path, journal_version: int = 2, *, today: bool = False) -> Path:
    """Its configuration. An own method, an own profile, and all results of the journal in the records: of
    the journal that is kept of a version, or of one made `today`, as this code grades."""
    (folder / "own").mkdir(parents=True)
    (folder / "own/method.toml").write_bytes(shipped("methods", "example").read_bytes())
    (folder / "own/indicator.toml").write_bytes(shipped("gauges", "line-mm").read_bytes())
    (folder / "var").mkdir()
    journal = folder / "var/journal.db"
    if today:
        make(folder / "var").rename(journal)
    else:
        with closing(sqlite3.connect(journal)) as db:
            db.executescript((DATA / f"journal-{journal_version}.sql").read_text())
    with closing(JournalReader(journal)) as reader, closing(Store(records_url(folder))) as store:
        for result in reader.results():
            store.put(result.document)
    config = folder / "ringtrue.toml"
    config.write_text(CONFIG)
    return config


def records_url(folder: Path) -> str:
    return f"sqlite:///{folder}/var/records.db"


def make_copy(config: Path, archive: Path) -> Path:
    assert main(["backup", "--config", str(config), "-o", str(archive)]) == 0
    return archive


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder but locks, which stay where a daemon or a restore has been."""
    files = [path for path in folder.rglob("*") if path.is_file() and path.suffix != ".lock"]
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def members(archive: Path) -> dict[str, bytes]:
    with tarfile.open(archive) as tar:
        return {name: _data(tar, name) for name in tar.getnames()}


def _data(tar: tarfile.TarFile, name: str) -> bytes:
    file = tar.extractfile(name)
    assert file is not None
    return file.read()


def pack(archive: Path, parts: dict[str, bytes], *more: tarfile.TarInfo) -> Path:
    with tarfile.open(archive, "w") as tar:
        for name, data in parts.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            tar.addfile(info, io.BytesIO(data))
        for info in more:
            tar.addfile(info)
    return archive


def reseal(
    parts: dict[str, bytes], change: Callable[[dict[str, Any]], None] = lambda _: None
) -> dict[str, bytes]:
    """With a changed manifest, and every size and SHA-256 made right again."""
    manifest = json.loads(parts[NAME])
    for part in manifest["parts"]:
        data = parts[part["name"]]
        part["size"], part["sha256"] = len(data), hashlib.sha256(data).hexdigest()
    change(manifest)
    said = json.dumps(manifest).encode()
    return {**parts, NAME: said, DIGEST: digest_line(said)}


def altered(database: bytes, folder: Path, sql: str) -> bytes:
    """A database after a statement."""
    file = folder / "altered.db"
    file.write_bytes(database)
    with closing(sqlite3.connect(file)) as db:
        db.executescript(sql)
    return file.read_bytes()


@contextmanager
def full_disk(most_bytes: int) -> Iterator[None]:
    """No file can grow beyond so many bytes."""
    unlimited = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, unlimited[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, unlimited)
