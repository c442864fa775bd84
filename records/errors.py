"""What can go wrong with records.

RecordsError                  anything of this room
├── PhotoRefusedError         no picture, or it cannot be kept
├── RecordRefusedError        no result, or it contradicts one that is stored: trying again is no use
└── RecordsUnavailableError   the database did not answer: trying again later is right
    └── RecordsVersionError   it is of a version that this ringtrue cannot use, or another program's
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
