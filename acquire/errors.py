"""What can go wrong in the daemon.

AcquireError
├── JournalError        the journal cannot be opened, or holds what this version cannot read
├── FoldError           events that no inspection can be made of
├── NotTakenError       the records will never take a result
└── CommandRefusedError a command is refused; carries the code that the reply gives
"""

from __future__ import annotations

from config.errors import RingtrueError


class AcquireError(RingtrueError):
    """Anything of the daemon's that a person can act upon."""


class JournalError(AcquireError):
    """The journal cannot be opened or read; the message names the file and what to do."""


class FoldError(AcquireError):
    """Events in an order that no inspection can have: the journal was altered, or is not whole."""


class CommandRefusedError(AcquireError):
    """A command is refused and nothing has changed; `code` is one of `commands.CODES`."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


class NotTakenError(AcquireError):
    """The records hold another result in the place of this one, or cannot understand it: to try again would
    not help, and the journal has it still."""
