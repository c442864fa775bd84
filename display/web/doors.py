"""Who is let in: a name and a password for a session, and what a session may do."""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from math import ceil

from starlette.requests import Request
from starlette.responses import Response

from display.web.people import People, Person, Role, hashed, is_password, may
from display.web.sessions import Kept, Session, SessionFile
from display.web.tries import Tries
from link.errors import BrokerError

IDLE_S, LONGEST_S = 4 * 3600.0, 12 * 3600.0
"""Seconds after which a session ends: unused, and at all; a shift."""
SESSIONS_MAX = 200
KEPT_S = 300.0
"""Seconds after which it is written down anew that a session is used."""
NO_PASSWORD, NO_CREDENTIAL = "Name and password do not belong together.", "This is not the bay's credential."
"""What is told where each has a password, and where the bay's own is asked for."""


class NotLetInError(Exception):
    """Says why, to whoever tried."""


class Doors:
    """people: None where there are none: then a name and the bay's credential do, and whoever gives them may
    all. credential: what that is now; None where the broker asks for none. file: where sessions outlive this
    process. wall_s: seconds since 1970, by which their ages are told then."""

    def __init__(
        self,
        people: Callable[[], People] | None,
        credential: Callable[[], str | None],
        *,
        is_secure: bool,
        file: SessionFile | None = None,
        now_s: Callable[[], float] = time.monotonic,
        wall_s: Callable[[], float] = time.time,
    ) -> None:
        self._people, self._credential = people, credential
        self._is_secure, self._now_s = is_secure, now_s
        self._file, self._wall_s, self._kept_s = file, wall_s, now_s()
        self._sessions = self._of_before()
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
        self._keep()
        return token

    async def _known(self, name: str, password: str) -> tuple[str, Role, str] | None:
        if self._people is not None:
            person = self._people().named(name)
            # In a thread: a password is held against its hash slowly, and the pages go on meanwhile.
            kept = self._nobody if person is None else person.password
            is_right = await asyncio.to_thread(is_password, password, kept)
            return (person.name, person.role, _proof(person)) if person is not None and is_right else None
        try:
            credential = self._credential()
        except BrokerError as error:
            raise NotLetInError(f"{error}.") from None
        if credential is not None and not hmac.compare_digest(password.encode(), credential.encode()):
            return None
        person_name = " ".join(name.split())
        if not (0 < len(person_name) <= 100 and person_name.isprintable()):
            raise NotLetInError("A name of 100 letters at most is needed.")
        return person_name, "own", _proof(credential)

    def session(self, request: Request) -> Session | None:
        """Whose request it is; None where nobody's, or of one whose session is over."""
        session = self._going_on(_kept(request.cookies.get(self.cookie, "")))
        if session is not None:
            session.seen_s = self._now_s()
            if session.seen_s - self._kept_s > KEPT_S:
                self._keep()
        return session

    def is_open(self, request: Request) -> bool:
        """Whether the session of a request that lasts goes on; to look is not to use it."""
        return self._going_on(_kept(request.cookies.get(self.cookie, ""))) is not None

    def _going_on(self, kept: str) -> Session | None:
        session, now_s = self._sessions.get(kept), self._now_s()
        if session is None:
            return None
        try:
            is_over = _is_old(session, now_s) or self._is_gone(session)
        except BrokerError:  # what is asked now cannot be told: not now
            return None
        if is_over:
            del self._sessions[kept]
            self._keep()
            return None
        return session

    def _is_gone(self, session: Session) -> bool:
        """Whether the person is no longer in the file, or has another role or password now; or, of a session
        of before, the bay another credential. Raises BrokerError."""
        if self._people is not None:
            person = self._people().named(session.person)
            return person is None or session.proof != _proof(person)
        if not session.is_proven:
            session.is_proven = session.proof == _proof(self._credential())
        return not session.is_proven

    def leave(self, request: Request) -> None:
        """End the session."""
        if self._sessions.pop(_kept(request.cookies.get(self.cookie, "")), None) is not None:
            self._keep()

    def _of_before(self) -> OrderedDict[str, Session]:
        """What the process before this one has kept, oldest first."""
        now_s, wall_s = self._now_s(), self._wall_s()
        found: OrderedDict[str, Session] = OrderedDict()
        for one in () if self._file is None else self._file.read():
            begun_s, seen_s = now_s - (wall_s - one.begun), now_s - (wall_s - one.seen)
            session = Session(one.person, one.role, one.proof, one.key, begun_s, seen_s, is_proven=False)
            # One that is of the future is of no clock that can be gone by.
            if begun_s <= seen_s <= now_s and not _is_old(session, now_s):
                found[one.token] = session
        return found

    def _keep(self) -> None:
        if self._file is None:
            return
        self._kept_s = self._now_s()
        off_s = self._wall_s() - self._kept_s
        self._file.write(
            Kept(
                token=token,
                person=one.person,
                role=one.role,
                proof=one.proof,
                key=one.key,
                begun=one.begun_s + off_s,
                seen=one.seen_s + off_s,
            )
            for token, one in self._sessions.items()
            if not _is_old(one, self._kept_s)
        )

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
    """Tokens are kept as their hash alone: who reads the memory or the file of sessions has none."""
    return hashlib.sha256(token.encode()).hexdigest()


def _is_old(session: Session, now_s: float) -> bool:
    return now_s - session.seen_s > IDLE_S or now_s - session.begun_s > LONGEST_S


def _proof(entered_by: Person | str | None) -> str:
    """A hash of a person as in the file, or of the bay's credential."""
    said = entered_by.model_dump_json() if isinstance(entered_by, Person) else repr(entered_by)
    return hashlib.sha256(said.encode()).hexdigest()
