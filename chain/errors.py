"""What can go wrong with a chain.

ChainError        anything of this room
├── AlteredError        a message that its signature does not hold for, or that is not in its one form
├── MethodRefusedError  a method that a bay may not take up
└── KeyFileError        a key cannot be read or made
"""

from __future__ import annotations

from config.errors import RingtrueError


class ChainError(RingtrueError):
    """Anything of this room."""


class AlteredError(ChainError):
    """These bytes are not what the bay signed."""


class MethodRefusedError(ChainError):
    """A method that was handed out and is not taken; the message says why."""


class KeyFileError(ChainError):
    """The key's file cannot be used; the message says what to do."""
