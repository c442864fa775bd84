"""The method that the next inspection is opened with: the bay's own file, or the newest that an office
issued.

An inspection holds its method in its first event and is graded by that, whatever is taken up meanwhile. What
is taken up is on the disk before it is in force: a restart without a broker has it.
"""

from __future__ import annotations

import asyncio
import json
import os
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import structlog

from acquire.aside import Aside
from acquire.clock import Clock
from acquire.journal.events import Opened
from config.bay import BayFiles
from config.method import Method
from config.synced import sync_folder
from contract.methods import MethodMessage, MethodNamed
from contract.wire import rfc3339

if TYPE_CHECKING:
    from chain.issued import Issued

WAITING_MOST = 4
"""Issues that wait to be looked at; of more the oldest go: somebody floods the topic."""
SAID_MOST = 50
"""Different reasons that are logged in one run."""
AGAIN_S = 20.0
"""Before what could not be kept is tried again."""


class Methods:
    """Of one bay. on_change: told on the loop when another is taken up, or something else is to be said."""

    def __init__(
        self, files: BayFiles, clock: Clock, aside: Aside, on_change: Callable[[], None] = lambda: None
    ) -> None:
        settings = files.settings
        self._authority, self._least = settings.method.authority, settings.method.least
        self._site = settings.bay.site
        self._path = kept_file(settings.journal.path)
        self._own, self._clock, self._aside, self._on_change = files.method, clock, aside, on_change
        self._kept: Issued | None = None
        self._heard: deque[bytes] = deque(maxlen=WAITING_MOST)
        self._came = asyncio.Event()
        self._said: set[str] = set()
        self._refused = ""
        self._log = structlog.get_logger().bind(bay=f"{settings.bay.site}/{settings.bay.name}")
        self.method = files.method
        """The one that the next inspection is opened with."""
        self.named = _named(files.method)
        """The same, to be told."""
        self.before: MethodNamed | None = None
        """The one before, in this run."""
        self.withheld: str | None = None
        """Why no inspection may be opened: what was taken up cannot be vouched for."""

    @property
    def is_wanted(self) -> bool:
        """Whether the bay takes methods from an office at all."""
        return self._authority is not None

    @property
    def warnings(self) -> list[str]:
        """One sentence each."""
        return [self.withheld] if self.withheld else [self._refused] if self._refused else []

    def open(self) -> None:
        """Take up what was taken up before; blocks."""
        from chain.errors import MethodRefusedError
        from chain.issued import is_higher

        if self._authority is None:
            if self._path.exists():
                self._log.warning("[method] authority is left out: what an office issued is not used")
            return
        try:
            found = read_kept(self._path, self._authority, self._site, self._least)
        except (MethodRefusedError, OSError) as error:
            why = error.strerror if isinstance(error, OSError) else str(error)
            self.withheld = (
                f"the method that was handed out ({self._path.name}) cannot be vouched for: {why}. "
                "No inspection is opened until the office issues one, or somebody moves that file away: then "
                "the bay begins anew with its own"
            )
            self._log.error("no method is in force", reason=self.withheld)
            return
        if found is None:
            self._log.info("no method was handed out yet: the bay's own is in force", **_brief(self.named))
            return
        self._take(*found)
        self._log.info("method in force, as it was handed out", **_brief(self.named))
        if self._own.id == self.method.id and is_higher(self._own.version, self.method.version):
            self._log.warning(
                "the bay's own method file says a higher version, which is not in force",
                own=self._own.version,
                in_force=self.method.version,
            )

    def heard(self, message: bytes) -> None:
        """What the office's topic says; nothing: it was cleared, which changes nothing here."""
        if self._authority is None or not message:
            return
        self._heard.append(message)
        self._came.set()

    def unheard(self, reason: str) -> None:
        """The broker does not let the bay read the topic."""
        self._refuse(f"methods of the office cannot be heard: {reason}")

    async def run(self) -> None:
        """Look at what comes, one after the other."""
        while True:
            await self._came.wait()
            self._came.clear()
            while self._heard:
                message = self._heard[0]
                try:
                    await self._look(message)
                except OSError as error:
                    self._refuse(
                        f"a method was issued and cannot be kept: {error.strerror}; it is tried again"
                    )
                    await asyncio.sleep(AGAIN_S)
                    continue
                with suppress(ValueError):
                    self._heard.remove(message)

    def told(self, opened: Opened | None) -> MethodMessage:
        """What is to be said. opened: how the inspection began that is open."""
        open_with = None if opened is None else named_in(opened)
        if open_with is None or open_with.sha256 == self.named.sha256:
            return MethodMessage(in_force=self.named, refused=self._refused or None, withheld=self.withheld)
        before = self.before
        held = before if before is not None and before.sha256 == open_with.sha256 else open_with
        return MethodMessage(
            in_force=held, waiting=self.named, refused=self._refused or None, withheld=self.withheld
        )

    async def _look(self, message: bytes) -> None:
        from chain.errors import MethodRefusedError

        if self._kept is not None and message == self._kept.message:
            self._refuse("")
            return
        try:
            new = await self._aside(self._judged, message)
            since = rfc3339(self._clock.utc())
            await self._aside(keep, self._path, message, since)
        except MethodRefusedError as error:
            self._refuse(f"a method was issued and is not taken: {error}")
            return
        self.before = self.named
        self._take(new, since)
        self.withheld, self._refused = None, ""
        self._log.info("method taken up", rollback=new.issue.rollback, **_brief(self.named))
        self._on_change()

    def _judged(self, message: bytes) -> Issued:
        from chain.issued import may_follow, read_issued

        new = read_issued(message, self._authority or "", self._site)
        may_follow(new, self._kept, self._own, self._least)
        return new

    def _take(self, new: Issued, since: str) -> None:
        self._kept, self.method = new, new.method
        self.named = _named(new.method, new.issue.number, since)

    def _refuse(self, why: str) -> None:
        """Said once, in status as long as nothing better comes."""
        if why and why not in self._said and len(self._said) < SAID_MOST:
            self._said.add(why)
            self._log.error("the method in force stays as it is", reason=why)
        if why != self._refused:
            self._refused = why
            self._on_change()


def named_in(opened: Opened) -> MethodNamed:
    """The method that an inspection was opened with."""
    said = opened.method
    return MethodNamed(id=said["id"], version=said["version"], sha256=opened.method_sha256)


def kept_file(journal: Path) -> Path:
    """Where what was taken up is kept, beside the journal."""
    return journal.with_suffix(".method")


def read_kept(path: Path, authority: str, site: str, least: int) -> tuple[Issued, str] | None:
    """What was taken up, and since when; None where nothing was. least: as `may_follow` has it, since a bay
    that is put back from a copy has an old one. Raises MethodRefusedError, OSError."""
    from chain.errors import MethodRefusedError
    from chain.issued import not_below, read_issued

    try:
        said = json.loads(path.read_bytes())
        message, since = said["issue"].encode(), str(said["since"])
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise MethodRefusedError("the file is damaged") from None
    found = read_issued(message, authority, site)
    not_below(found, least)
    return found, since


def keep(path: Path, message: bytes, since: str) -> None:
    """Whole or not at all, whatever happens meanwhile."""
    partial = path.with_name(f".{path.name}.new")
    with partial.open("wb") as file:
        file.write(json.dumps({"since": since, "issue": message.decode()}, ensure_ascii=False).encode())
        file.flush()
        os.fsync(file.fileno())
    partial.replace(path)
    sync_folder(path.parent)


def _named(method: Method, number: int | None = None, since: str | None = None) -> MethodNamed:
    return MethodNamed(
        id=method.id, version=method.version, sha256=method.sha256(), number=number, since=since
    )


def _brief(named: MethodNamed) -> dict[str, object]:
    """For one line of the log."""
    return named.model_dump(exclude_none=True)
