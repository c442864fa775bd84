"""What can go wrong with a copy of a bay.

BackupError                could not be done here: a file that exists, a full disk
└── ArchiveDamagedError    the answer is no: this file is not a whole copy
"""

from __future__ import annotations

from pathlib import Path

from config.errors import RingtrueError


class BackupError(RingtrueError):
    """A copy could not be made or put back; nothing was changed."""


class ArchiveDamagedError(BackupError):
    """The file is not a whole copy of a bay."""

    exit_code = 1

    def __init__(self, archive: Path, why: str) -> None:
        super().__init__(
            f"{archive}: not a whole copy of a bay ({why}); nothing was changed: use another copy"
        )
