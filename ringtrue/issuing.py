"""A method is signed by its office's key, and put where all bays of a site hear it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from chain.errors import ChainError
from chain.issued import Issued, issued, read_issued
from chain.key import read_or_make
from chain.signing import read_fields
from config.errors import RingtrueError
from config.settings import BaySettings
from contract.topics import Topics
from contract.wire import rfc3339
from link.display import connect
from ringtrue.writing import write_new

if TYPE_CHECKING:
    from config.method import Method
    from link.address import BrokerAddress

LOOK_S = 1.0
"""How long what the topic holds by now is waited for: it comes at once, or there is nothing."""
BACK_S = 10.0
"""How long one's own message is waited for: many times what a broker takes."""


class IssueError(RingtrueError):
    """It cannot be signed or published; the message says why."""


class NoKeyError(IssueError):
    """There is no key of that name."""


def sign(method: Method, key: Path, site: str, number: int, output: Path, *, rollback: bool) -> Issued:
    """The issue, written to a file that is not there yet."""
    _refuse_unless_level(site)
    if not key.exists():
        raise NoKeyError(f"{key}: no such key; `ringtrue method key {key}` makes one")
    signer = read_or_make(key)
    try:
        message = issued(signer, method, site, number, rfc3339(datetime.now(UTC)), rollback=rollback)
    except ValueError as error:
        raise IssueError(f"the method cannot be signed: {error}") from None
    write_new(output, message, "an issue")
    return read_issued(message, signer.public_key, site)


def read_file(path: Path) -> Issued:
    """An issue in a file, by whatever key it names, its signature and its method looked at."""
    message = path.read_bytes()
    try:
        fields = read_fields(message)
        found = read_issued(message, str(fields.get("key")), str(fields.get("site")))
        _refuse_unless_level(found.issue.site)
        return found
    except RingtrueError as error:
        raise IssueError(f"{path}: no issue that a bay would take: {error}") from None


def _refuse_unless_level(site: str) -> None:
    """A site is a level of topics: nothing is published to more than one, or to none."""
    try:
        BaySettings.model_validate({"site": site, "name": "any"})
    except ValidationError:
        raise IssueError(f"site {site!r}: expected as in [bay] site, a short name without / + # $") from None


async def publish(address: Callable[[], BrokerAddress], new: Issued, *, replace_key: bool = False) -> bool:
    """Put it on its site's topic; False where the very same is there. Raises IssueError where a higher number
    is, or another issue of the same; or one by another key, unless that is to be replaced; or where the
    broker does not hand it back, as it acknowledges what its access list throws away too."""
    topic = Topics(new.issue.site, "-").issued_method
    async with connect(address()) as connection:
        await connection.subscribe(topic)
        there: bytes | None = None
        with suppress(TimeoutError):
            async with asyncio.timeout(LOOK_S):
                there = (await connection.next_message()).payload or None
        if there == new.message:
            return False
        before = _issued_before(there, new.issue.site)
        if before is not None and before.issue.key != new.issue.key:
            if not replace_key:
                key = before.issue.key[:16]
                raise IssueError(
                    f"{topic} holds number {before.issue.number} by another key, {key}…: does a second "
                    "office hand out methods for this site? --replace-key where the key is a new one"
                )
            before = None
        number = None if before is None else before.issue.number
        if number is not None and number >= new.issue.number:
            raise IssueError(
                f"{topic} holds number {number} already, and this is {new.issue.number}: no bay would take "
                "it; sign it with a higher number"
            )
        await connection.publish(topic, new.message, qos=1, retain=True)
        try:
            async with asyncio.timeout(BACK_S):
                while (await connection.next_message()).payload != new.message:
                    pass
        except TimeoutError:
            raise IssueError(
                f"not published: {topic} did not come back from the broker: its access list must let this "
                "user write and read that topic"
            ) from None
    return True


def _issued_before(there: bytes | None, site: str) -> Issued | None:
    """What the topic holds, where that is an issue by whatever key; nonsense is in nobody's way."""
    if there is None:
        return None
    try:
        return read_issued(there, str(read_fields(there).get("key")), site)
    except ChainError:
        return None
