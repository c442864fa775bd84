"""Who is let in: a name and a password for a session, and what a session may do."""

from __future__ import annotations

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

from display.web.people import People, Role, hashed, is_password, may

IDLE_S, LONGEST_S = 4 * 3600.0, 12 * 3600.0
"""Seconds after which a session ends: unused, and at all; a shift."""
SESSIONS_MAX = 200
TRIES = 5
"""Wrong passwords of one name, or from one address, before it must wait."""
WAIT_FIRST_S, WAIT_MAX_S = 10.0, 300.0
_REMEMBERED_MAX = 2000


@dataclass(slots=True)
class Session:
    """Somebody who was let in. key: tells sessions apart without being a secret."""

    person: str
    role: Role
    key: str
    begun_s: float
    seen_s: float


class Tries:
    """How often a wrong password was given, by name and by address: guessing is slow."""

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._wrong: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def wait_s(self, *by: str) -> float:
        """Seconds until another try is allowed."""
        return max(0.0, *(self._wrong.get(one, (0, 0.0))[1] - self._now_s() for one in by))

    def wrong(self, *by: str) -> None:
        """Another wrong one."""
        for one in by:
            number = self._wrong.pop(one, (0, 0.0))[0] + 1
            pause_s = 0.0 if number < TRIES else min(WAIT_FIRST_S * 2.0 ** (number - TRIES), WAIT_MAX_S)
            self._wrong[one] = number, self._now_s() + pause_s
            if len(self._wrong) > _REMEMBERED_MAX:
                self._wrong.popitem(last=False)

    def right(self, *by: str) -> None:
        """The password was right."""
        for one in by:
            self._wrong.pop(one, None)


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

    def enter(self, name: str, password: str, address: str) -> str:
        """The token of a new session. Raises NotLetInError."""
        by = f"name {name.strip().casefold()}", f"from {address}"
        wait_s = self._tries.wait_s(*by)
        if wait_s > 0:
            raise NotLetInError(f"Too many wrong tries: wait {ceil(wait_s)} s.")
        found = self._known(name, password)
        if found is None:
            self._tries.wrong(*by)
            raise NotLetInError("Name and password do not belong together.")
        self._tries.right(*by)
        token, now_s = secrets.token_urlsafe(32), self._now_s()
        self._sessions[_kept(token)] = Session(*found, key=secrets.token_hex(8), begun_s=now_s, seen_s=now_s)
        while len(self._sessions) > SESSIONS_MAX:
            self._sessions.popitem(last=False)
        return token

    def _known(self, name: str, password: str) -> tuple[str, Role] | None:
        if self._people is not None:
            person = self._people().named(name)
            is_right = is_password(password, self._nobody if person is None else person.password)
            return (person.name, person.role) if person is not None and is_right else None
        credential = self._credential()
        is_right = credential is None or hmac.compare_digest(password.encode(), credential.encode())
        person_name = " ".join(name.split())
        is_name = 0 < len(person_name) <= 100 and person_name.isprintable()
        return (person_name, "own") if is_right and is_name else None

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
        """Whether the person is no longer in the file, or may something else now."""
        if self._people is None:
            return False
        person = self._people().named(session.person)
        return person is None or person.role != session.role

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
