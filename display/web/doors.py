"""Who is let in: a name and a password for a session, and what a session may do."""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from math import ceil

from starlette.requests import Request
from starlette.responses import Response

from display.web.people import People, Person, Role, hashed, is_password, may
from display.web.tries import Tries
from link.errors import BrokerError

IDLE_S, LONGEST_S = 4 * 3600.0, 12 * 3600.0
"""Seconds after which a session ends: unused, and at all; a shift."""
SESSIONS_MAX = 200
NO_PASSWORD, NO_CREDENTIAL = "Name and password do not belong together.", "This is not the bay's credential."
"""What is told where each has a password, and where the bay's own is asked for."""


@dataclass(slots=True)
class Session:
    """Somebody who was let in. key: tells sessions apart without being a secret. entry: as the file of people
    had it then."""

    person: str
    role: Role
    entry: Person | None
    key: str
    begun_s: float
    seen_s: float


class NotLetInError(Exception):
    """Says why, to whoever tried."""


class Doors:
    """people: None where there are none: then a name and the bay's credential do, and whoever gives them may
    all. credential: what that is now; None where the broker asks for none."""

    def __init__(
        self,
        people: Callable[[], People] | None,
        credential: Callable[[], str | None],
        *,
        is_secure: bool,
        now_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._people, self._credential = people, credential
        self._is_secure, self._now_s = is_secure, now_s
        self._sessions: OrderedDict[str, Session] = OrderedDict()
        self._tries = Tries(now_s)
        # One try after the other: each is slow on purpose, and many together would slow the bay.
        self._one = asyncio.Lock()
        # Held against where there is nobody of that name, so that both take as long.
        self._nobody = hashed(secrets.token_urlsafe())

    @property
    def has_people(self) -> bool:
        """Whether each has a password of their own."""
        return self._people is not None

    @property
    def cookie(self) -> str:
        """Its name: the prefix keeps it to this very host where the line is safe (RFC 6265bis, 4.1.3)."""
        return "__Host-ringtrue" if self._is_secure else "ringtrue"

    async def enter(self, name: str, password: str, address: str) -> str:
        """The token of a new session. Raises NotLetInError."""
        async with self._one:
            wait_s = self._tries.wait_s(name, address)
            if wait_s > 0:
                raise NotLetInError(f"Too many wrong tries: wait {ceil(wait_s)} s.")
            found = await self._known(name, password)
            if found is None:
                self._tries.wrong(name, address)
                raise NotLetInError(NO_PASSWORD if self.has_people else NO_CREDENTIAL)
            self._tries.right(name, address)
        token, now_s = secrets.token_urlsafe(32), self._now_s()
        self._sessions[_kept(token)] = Session(*found, key=secrets.token_hex(8), begun_s=now_s, seen_s=now_s)
        while len(self._sessions) > SESSIONS_MAX:
            self._sessions.popitem(last=False)
        return token

    async def _known(self, name: str, password: str) -> tuple[str, Role, Person | None] | None:
        if self._people is not None:
            person = self._people().named(name)
            # In a thread: a password is held against its hash slowly, and the pages go on meanwhile.
            kept = self._nobody if person is None else person.password
            is_right = await asyncio.to_thread(is_password, password, kept)
            return (person.name, person.role, person) if person is not None and is_right else None
        try:
            credential = self._credential()
        except BrokerError as error:
            raise NotLetInError(f"{error}.") from None
        if credential is not None and not hmac.compare_digest(password.encode(), credential.encode()):
            return None
        person_name = " ".join(name.split())
        if not (0 < len(person_name) <= 100 and person_name.isprintable()):
            raise NotLetInError("A name of 100 letters at most is needed.")
        return person_name, "own", None

    def session(self, request: Request) -> Session | None:
        """Whose request it is; None where nobody's, or of one whose session is over."""
        session = self._going_on(_kept(request.cookies.get(self.cookie, "")))
        if session is not None:
            session.seen_s = self._now_s()
        return session

    def is_open(self, request: Request) -> bool:
        """Whether the session of a request that lasts goes on; to look is not to use it."""
        return self._going_on(_kept(request.cookies.get(self.cookie, ""))) is not None

    def _going_on(self, kept: str) -> Session | None:
        session, now_s = self._sessions.get(kept), self._now_s()
        if session is None:
            return None
        if now_s - session.seen_s > IDLE_S or now_s - session.begun_s > LONGEST_S or self._is_gone(session):
            del self._sessions[kept]
            return None
        return session

    def _is_gone(self, session: Session) -> bool:
        """Whether the person is no longer in the file, or has another role or password now."""
        return self._people is not None and self._people().named(session.person) != session.entry

    def leave(self, request: Request) -> None:
        """End the session."""
        self._sessions.pop(_kept(request.cookies.get(self.cookie, "")), None)

    def is_allowed(self, request: Request, needed: Role) -> bool:
        """Whether the request is of somebody who may that."""
        session = self.session(request)
        return session is not None and may(session.role, needed)

    def hand(self, response: Response, token: str) -> None:
        """The cookie of a session."""
        response.set_cookie(
            self.cookie, token, max_age=int(LONGEST_S), path="/", secure=self._is_secure, httponly=True,
            samesite="strict",
        )  # fmt: skip

    def take_back(self, response: Response) -> None:
        """The cookie is worth nothing any more."""
        response.delete_cookie(
            self.cookie, path="/", secure=self._is_secure, httponly=True, samesite="strict"
        )


def _kept(token: str) -> str:
    """Tokens are kept as their hash alone: who reads the memory of a session list has none."""
    return hashlib.sha256(token.encode()).hexdigest()
