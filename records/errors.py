"""What can go wrong with records.

RecordsError                  anything of this room
├── PhotoRefusedError         no picture, or it cannot be kept
├── RecordRefusedError        no result, or it contradicts one that is stored: trying again is no use
├── RecordsUnavailableError   the database did not answer: trying again later is right
│   └── RecordsVersionError   it is of a version that this ringtrue cannot use, or another program's
└── ReportError               a report cannot be made, of what it is to show
    ├── ReportContradictsError  its document contradicts itself
    └── NotInstalledError     or with what is installed
"""

from __future__ import annotations

from config.errors import RingtrueError


class RecordsError(RingtrueError):
    """Anything of this room."""


class PhotoRefusedError(RecordsError):
    """The file is no picture, or the folder of photos cannot be written."""


class RecordRefusedError(RecordsError):
    """The document is no result, or one with the same key and other content is stored already."""


class RecordsUnavailableError(RecordsError):
    """The database could not be opened, read or written just now."""


class RecordsVersionError(RecordsUnavailableError):
    """The database is not one that this version can use; what is to be stored waits until it is."""


class ReportError(RecordsError):
    """A report cannot be made; nothing was written."""


class ReportContradictsError(ReportError):
    """The document's verdict is not what its checks add up to."""

    exit_code = 1


class NotInstalledError(ReportError):
    """A library of an extra is not there. what: is made of it; without: what does without it."""

    def __init__(self, package: str, what: str = "a PDF", without: str = "--html") -> None:
        super().__init__(
            f"{what} needs the package {package}, which is not installed: pip install --require-hashes -r "
            f"locks/run.txt brings it (in a checkout ./run does); {without} does without"
        )
