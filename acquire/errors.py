"""What can go wrong in the daemon.

AcquireError
├── JournalError        the journal cannot be opened, or holds what this version cannot read
├── FoldError           events that no inspection can be made of
├── CommandRefusedError a command is refused; carries the code that the reply gives
├── PublishRefusedError the broker does not let this user publish a topic
├── broker.BrokerError  the built-in broker cannot be had
└── mqtt.LinkError      the broker cannot be reached, or the connection to it has ended
    └── mqtt.CredentialRefusedError  it does not accept the user name or password
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


class PublishRefusedError(AcquireError):
    """The broker does not let this user publish a topic (MQTT 5 says so; with 3.1.1 nobody hears of it).

    The connection goes on. reason: the broker's own.
    """

    def __init__(self, topic: str, reason: str) -> None:
        super().__init__(
            f"the broker refuses {topic} ({reason}): this user may not publish it; "
            "allow it in the broker's access list, or give the credential of a user who may"
        )
        self.topic = topic
        self.reason = reason
