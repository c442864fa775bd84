"""Files into their places, all or none: what lay there is kept beside, and nothing is lost at any moment."""

from __future__ import annotations

import os
import shutil
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from pathlib import Path

from config.synced import sync_folder

BESIDE = ("-wal", "-shm")
"""What SQLite keeps beside a database: with another one in its place it would be taken for that one's."""


def put_in_place(files: Sequence[tuple[Path, Path]], suffix: str) -> list[Path]:
    """Rename each of (where it is, where it belongs), in that order; those there get `suffix`.

    The old ones, by their new names. Raises OSError, with everything as it was.
    """
    kept = []
    with ExitStack() as undo:
        for new, place in files:
            old = place.with_name(place.name + suffix)
            if place.exists():
                _keep(place, old)
                undo.callback(_put_back, old, place)
                kept.append(old)
            else:
                undo.callback(place.unlink, missing_ok=True)
            for ending in BESIDE:
                beside, aside = Path(f"{place}{ending}"), Path(f"{old}{ending}")
                if beside.exists():
                    beside.rename(aside)
                    undo.callback(_put_back, aside, beside)
            new.replace(place)
            sync_folder(place.parent)
        undo.pop_all()
    return kept


def _keep(place: Path, old: Path) -> None:
    """Under both names, so that there is no moment without it; a copy where the disk knows no links."""
    try:
        os.link(place, old)
    except FileExistsError:
        raise
    except OSError:
        shutil.copy2(place, old)


def _put_back(old: Path, place: Path) -> None:
    with suppress(OSError):  # what cannot be put back is there under its other name
        if place.exists() and old.samefile(place):
            old.unlink()
        else:
            old.replace(place)
