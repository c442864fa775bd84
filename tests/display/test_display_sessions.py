"""Sessions outlive the pages' process: in a file without their tokens, as long as they would have lasted."""

from __future__ import annotations

import stat
from dataclasses import dataclass
from pathlib import Path

import pytest
from starlette.requests import Request

from display.web.doors import IDLE_S, LONGEST_S, Doors
from display.web.people import People, Person
from display.web.sessions import SessionFile
from link.errors import BrokerError
from tests.display.site import CREDENTIAL
from tests.display.test_display_doors import HASH, PASSWORD, TECHNICIAN


@dataclass
class Bay:
    """Its pages, whose process is started anew at will; both clocks go together."""

    file: Path
    passed_s: float = 0.0
    credential: str | BrokerError = CREDENTIAL
    people: People | None = None
    starts: int = 0

    def start(self) -> Doors:
        self.starts += 1
        began_s = 5000.0 * self.starts  # of a clock that begins anew with the machine
        people = self.people
        return Doors(
            None if people is None else lambda: self.people or People(person=()),
            self._asked,
            is_secure=False,
            file=SessionFile(self.file),
            now_s=lambda: began_s + self.passed_s,
            wall_s=lambda: 1.7e9 + self.passed_s,
        )

    def _asked(self) -> str:
        if isinstance(self.credential, BrokerError):
            raise self.credential
        return self.credential


@pytest.fixture
def bay(tmp_path: Path) -> Bay:
    return Bay(tmp_path / "var/sessions.json")


def request(token: str) -> Request:
    return Request({"type": "http", "headers": [(b"cookie", f"ringtrue={token}".encode())]})


def who(doors: Doors, token: str) -> str | None:
    session = doors.session(request(token))
    return None if session is None else session.person


async def test_whoever_has_entered_stays_in_over_a_restart(bay: Bay) -> None:
    before = bay.start()
    token = await before.enter("R. Example", CREDENTIAL, "127.0.0.1")
    key = before.session(request(token))
    bay.passed_s = 60.0
    after = bay.start()
    assert who(after, token) == "R. Example"
    session = after.session(request(token))
    assert session is not None
    assert key is not None
    assert session.key == key.key
    assert token not in bay.file.read_text()
    assert CREDENTIAL not in bay.file.read_text()
    assert stat.S_IMODE(bay.file.stat().st_mode) == 0o600


@pytest.mark.parametrize("wait_s", [IDLE_S + 1, LONGEST_S + 1])
async def test_it_ends_when_it_would_have_ended(bay: Bay, wait_s: float) -> None:
    doors = bay.start()
    token = await doors.enter("R. Example", CREDENTIAL, "127.0.0.1")
    while wait_s - bay.passed_s > IDLE_S and wait_s > LONGEST_S:
        bay.passed_s += IDLE_S - 1
        assert who(doors, token) == "R. Example"  # used all the time, which is written down
        doors = bay.start()
    bay.passed_s = wait_s
    assert who(bay.start(), token) is None


async def test_who_has_left_or_has_another_password_by_then_must_enter(bay: Bay) -> None:
    bay.people = People(person=(TECHNICIAN,))
    doors = bay.start()
    left, stays = [await doors.enter("R. Example", PASSWORD, "127.0.0.1") for _ in range(2)]
    doors.leave(request(left))
    assert (who(bay.start(), left), who(bay.start(), stays)) == (None, "R. Example")
    bay.people = People(person=(Person(name="R. Example", role="look", password=HASH),))
    assert who(bay.start(), stays) is None


async def test_another_credential_by_then_ends_it_and_one_that_cannot_be_told_waits(bay: Bay) -> None:
    token = await bay.start().enter("R. Example", CREDENTIAL, "127.0.0.1")
    doors = bay.start()
    bay.credential = BrokerError("no broker runs for this bay")
    assert who(doors, token) is None
    bay.credential = CREDENTIAL
    assert who(doors, token) == "R. Example"
    bay.credential = "another one"
    assert who(bay.start(), token) is None


async def test_a_clock_that_was_set_back_meanwhile_lengthens_nothing(bay: Bay) -> None:
    token = await bay.start().enter("R. Example", CREDENTIAL, "127.0.0.1")
    bay.passed_s = -3600.0
    assert who(bay.start(), token) is None


@pytest.mark.parametrize("damage", ["", "{", '{"sessions":[{"token":"x"}]}'])
async def test_a_damaged_file_costs_the_sessions_alone(bay: Bay, damage: str) -> None:
    await bay.start().enter("R. Example", CREDENTIAL, "127.0.0.1")
    bay.file.write_text(damage)
    doors = bay.start()
    token = await doors.enter("R. Example", CREDENTIAL, "127.0.0.1")
    assert who(bay.start(), token) == "R. Example"


async def test_where_nothing_can_be_kept_they_last_as_long_as_the_process(bay: Bay) -> None:
    bay.file.parent.write_text("a file where a folder should be")
    doors = bay.start()
    token = await doors.enter("R. Example", CREDENTIAL, "127.0.0.1")
    assert who(doors, token) == "R. Example"
    assert who(bay.start(), token) is None
