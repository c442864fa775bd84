"""Files that a person asked for: whole or not at all, and never over one that is there."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from config.errors import RingtrueError
from config.synced import sync_folder


class NotWrittenError(RingtrueError):
    """The file was not made."""


def write_new(file: Path, data: bytes, what: str) -> None:
    """Make a file of it. what: is in it, as a person says ("a report"). Raises NotWrittenError where there is
    one already, or it cannot be made."""
    if file.exists():
        raise NotWrittenError(
            f"{file}: exists already, and {what} overwrites none; name another file with -o"
        )
    if not file.parent.is_dir():
        raise NotWrittenError(f"{file.parent}: no such folder; make it first, or name another place with -o")
    try:
        with tempfile.TemporaryDirectory(dir=file.parent, prefix=".ringtrue-") as folder:
            partial = Path(folder) / file.name
            with partial.open("xb") as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
            partial.rename(file)
        sync_folder(file.parent)
    except OSError as error:
        raise NotWrittenError(
            f"{file}: cannot be written ({error.strerror or error}); name another place with -o"
        ) from None
