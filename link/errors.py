"""What can go wrong between here and the broker.

RingtrueError
├── BrokerError          the built-in broker cannot be had
├── PublishRefusedError  the broker does not let this user publish a topic
├── RefusedError         the daemon did not do what it was asked
├── StreamError          what a cluster keeps is not as a writer needs it
├── NothingHeardError    what was waited for did not come
└── LinkError            the broker cannot be reached, or the connection to it has ended
    └── CredentialRefusedError  it does not accept the user name or password
"""

from __future__ import annotations

from config.errors import RingtrueError


class BrokerError(RingtrueError):
    """The built-in broker cannot be had."""


class LinkError(RingtrueError):
    """The broker cannot be reached, or the connection to it has ended."""


class CredentialRefusedError(LinkError):
    """The broker does not accept the user name or password."""


class PublishRefusedError(RingtrueError):
    """The broker does not let this user publish a topic (MQTT 5 says so, to the daemon's connection; with
    3.1.1 nobody hears of it).

    The connection goes on. reason: the broker's own.
    """

    def __init__(self, topic: str, reason: str) -> None:
        super().__init__(
            f"the broker refuses {topic} ({reason}): this user may not publish it; "
            "allow it in the broker's access list, or give the credential of a user who may"
        )
        self.topic = topic
        self.reason = reason


class StreamError(RingtrueError):
    """What a cluster keeps is not as a writer needs it: a person has to mend it."""


class RefusedError(RingtrueError):
    """The daemon did not do what it was asked. message: its own; code: one of `contract.commands.CODES`."""

    def __init__(self, command: str, code: str, message: str) -> None:
        super().__init__(f"the daemon refused `{command}`: {message}")
        self.code = code
        self.message = message


class NothingHeardError(RingtrueError):
    """What was waited for did not come."""
