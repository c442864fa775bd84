"""Who is let in, for how long, and how slow guessing is."""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

import httpx
import pytest

from display.web import doors as doors_module
from display.web import people as people_module
from display.web import stream as streams
from display.web.doors import IDLE_S, LONGEST_S, SESSIONS_MAX, Doors, NotLetInError
from display.web.people import People, PeopleFile, Person, hashed, read_people, with_person, write_people
from display.web.tries import ADDRESS, FORGOTTEN_S, NAME, PAIR, REMEMBERED_MAX, Tries
from link.errors import BrokerError
from tests.display.site import CREDENTIAL, Clock, bench, site, stream

PASSWORD = "a long enough one"
# The least cost that the file of people may say: some 10 ms.
with pytest.MonkeyPatch.context() as _cheap:
    _cheap.setattr(people_module, "N", 4096)
    _cheap.setattr(people_module, "P", 1)
    HASH = hashed(PASSWORD)
TECHNICIAN = Person(name="R. Example", role="work", password=HASH)
FOREMAN = Person(name="Q. Sample", role="own", password=HASH)
OFFICE = Person(name="T. Clerk", role="look", password=HASH)


class Staff:
    """People who come and go."""

    def __init__(self, *people: Person) -> None:
        self.people = People(person=people)

    def now(self) -> People:
        return self.people

    def become(self, *people: Person) -> None:
        self.people = People(person=people)


@pytest.mark.slow
async def test_a_session_is_a_cookie_that_no_script_reads_and_no_other_site_sends(tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.browser() as browser:
        said = await browser.post("/enter", data={"name": "R. Example", "password": CREDENTIAL})
        cookie = said.headers["set-cookie"]
        name, _, token = cookie.partition(";")[0].partition("=")
        assert name == "ringtrue"
        assert len(token) >= 43  # 256 bits
        for part in ("HttpOnly", "SameSite=strict", "Path=/"):
            assert part in cookie
        assert (await browser.get("/api/me")).json() == {
            "person": "R. Example", "role": "own", "people": False,
        }  # fmt: skip
        again = await browser.post("/enter", data={"name": "R. Example", "password": CREDENTIAL})
        assert token not in again.headers["set-cookie"]
        stolen = {"Cookie": f"ringtrue={token}"}
        async with made.browser() as thief:
            assert (await thief.get("/api/me", headers=stolen)).json()["person"] is None
        out = await browser.post("/leave")
        assert "Max-Age=0" in out.headers["set-cookie"]
        assert (await browser.get("/api/me")).json()["person"] is None


@pytest.mark.slow
@pytest.mark.parametrize("wait_s", [IDLE_S + 1, LONGEST_S + 1])
async def test_a_session_ends_unused_and_in_any_case_and_its_stream_with_it(
    wait_s: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(streams, "ALIVE_S", 0.1)
    async with site(tmp_path) as made, made.entered() as browser, stream(browser, bench()) as page:
        await page.until("page")
        if wait_s > LONGEST_S:  # used all the time
            for _ in range(int(wait_s // IDLE_S)):
                made.clock.now_s += IDLE_S - 1
                await browser.get("/api/me")
            made.clock.now_s += wait_s % IDLE_S + 5
        else:
            made.clock.now_s += wait_s
        await page.ends()
        assert (await browser.get(bench())).status_code == 401


CHANGES: list[tuple[str, Callable[[Staff], None]]] = [
    ("removed", lambda staff: staff.become(FOREMAN)),
    ("less", lambda staff: staff.become(Person(name="R. Example", role="look", password=HASH))),
    ("more", lambda staff: staff.become(Person(name="R. Example", role="own", password=HASH))),
    (
        "password",
        lambda staff: staff.become(Person(name="R. Example", role="work", password=hashed("x" * 12))),
    ),
]


@pytest.mark.slow
@pytest.mark.parametrize("change", [change for _, change in CHANGES], ids=[name for name, _ in CHANGES])
async def test_whoever_is_another_in_the_file_must_enter_again(
    change: Callable[[Staff], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(streams, "ALIVE_S", 0.1)
    staff = Staff(TECHNICIAN)
    async with site(tmp_path, people=staff.now) as made, made.entered(password=PASSWORD) as browser:
        async with stream(browser, bench()) as page:
            await page.until("page")
            change(staff)
            await page.ends()
        assert (await browser.get("/api/me")).json()["person"] is None


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "look", "work"),
    [("T. Clerk", 200, 401), ("R. Example", 200, 200), ("q. sample", 200, 200), (None, 401, 401)],
)
async def test_each_role_may_what_it_is_for(name: str | None, look: int, work: int, tmp_path: Path) -> None:
    from starlette.requests import Request
    from starlette.responses import PlainTextResponse, Response
    from starlette.routing import Route

    async def fleet(_: Request) -> Response:
        return PlainTextResponse("fleet")

    staff = Staff(TECHNICIAN, FOREMAN, OFFICE)
    reads = [Route("/api/fleet", fleet)]
    async with site(tmp_path, people=staff.now, reads=reads) as made, made.browser() as browser:
        if name is not None:
            await browser.post("/enter", data={"name": name, "password": PASSWORD})
        assert (await browser.get("/api/fleet")).status_code == look
        act = {"tab": "", "name": "", "key": "", "unit": "mm"}
        pressed = await browser.post("/bench/act", json=act)
        assert pressed.status_code == (409 if work == 200 else 401)
        sent = await browser.post("/bench/photo", content=b"")
        assert sent.status_code == (409 if work == 200 else 401)
        for page, status in (("/history", look), ("/bench", work)):
            answer = await browser.get(page)
            if status == 200:
                assert answer.status_code == 200
            else:
                assert (answer.status_code, answer.headers["location"]) == (303, f"/enter?next={page}")
        if work != 200:
            assert (await browser.get(bench())).status_code == 401


@pytest.mark.slow
async def test_what_is_wrong_is_not_told_and_no_password_is_logged(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    staff = Staff(TECHNICIAN)
    async with site(tmp_path, people=staff.now) as made, made.browser() as browser:
        told = []
        for name, password in (("R. Example", "not the secret"), ("Nobody", PASSWORD), ("", "")):
            answer = await browser.post("/enter", data={"name": name, "password": password})
            told.append((answer.status_code, answer.json()))
            assert "set-cookie" not in answer.headers
        assert told == [(403, {"error": "Name and password do not belong together."})] * 3
        await browser.post("/enter", data={"name": "R. Example", "password": PASSWORD})
        token = browser.cookies["ringtrue"]
    ours = [record.getMessage() for record in caplog.records if not record.name.startswith("http")]
    said = "".join((*capfd.readouterr(), *ours))
    assert PASSWORD not in said
    assert "not the secret" not in said
    assert token not in said


@pytest.mark.usefixtures("hashes_cost_in_full")
async def test_an_unknown_name_costs_as_much_as_a_known_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """The hash is made either way, of the same cost; counted, as a laden machine's time tells nothing."""
    held: list[str] = []

    def counted(password: str, kept: str) -> bool:
        held.append(kept.rpartition("$")[0].rpartition("$")[0])
        return False

    monkeypatch.setattr(doors_module, "is_password", counted)
    staff = Staff(Person(name="R. Example", role="work", password=hashed(PASSWORD)))
    doors = Doors(staff.now, lambda: None, is_secure=True)
    for name in ("R. Example", "Nobody"):
        with pytest.raises(NotLetInError):
            await doors.enter(name, PASSWORD, "192.0.2.1")
    assert held == ["scrypt$16384$8$5"] * 2


async def test_sessions_are_bounded_and_the_oldest_go(tmp_path: Path) -> None:
    doors = Doors(None, lambda: None, is_secure=False)
    for number in range(SESSIONS_MAX + 3):
        await doors.enter(f"person {number}", "", "127.0.0.1")
    assert len(doors._sessions) == SESSIONS_MAX
    assert all(len(kept) == 64 for kept in doors._sessions)  # hashes: no token is kept


async def test_a_broker_that_does_not_run_is_told_to_whoever_enters() -> None:
    def credential() -> str:
        raise BrokerError("no broker runs for this bay: start `ringtrue run`")

    doors = Doors(None, credential, is_secure=False)
    with pytest.raises(NotLetInError, match="start `ringtrue run`"):
        await doors.enter("R. Example", "x", "127.0.0.1")


@pytest.mark.parametrize("name", ["", "  ", "x" * 101, "a\nb", "a\x00b"])
async def test_a_name_is_one_that_can_go_on_record(name: str) -> None:
    doors = Doors(None, lambda: CREDENTIAL, is_secure=False)
    if name == "a\nb":  # blanks are made one
        assert await doors.enter(name, CREDENTIAL, "127.0.0.1")
        return
    with pytest.raises(NotLetInError):
        await doors.enter(name, CREDENTIAL, "127.0.0.1")


# -- guessing


class Guess:
    """Tries against the rules, on a clock wound by hand."""

    def __init__(self) -> None:
        self.clock = Clock()
        self.tries = Tries(lambda: self.clock.now_s)

    def wrong_for(self, seconds: float, name: str, *addresses: str) -> int:
        """How many a guesser gets in by then, who tries as soon as it may."""
        until_s, number = self.clock.now_s + seconds, 0
        while True:
            waits = {address: self.tries.wait_s(name, address) for address in addresses}
            address = min(addresses, key=lambda one: waits[one])
            if self.clock.now_s + waits[address] > until_s:
                self.clock.now_s = until_s
                return number
            self.clock.now_s += waits[address]
            self.tries.wrong(name, address)
            number += 1


def test_few_tries_are_free_and_then_each_waits_longer() -> None:
    guess = Guess()
    for _ in range(PAIR.free):
        assert guess.tries.wait_s("r", "192.0.2.1") == 0
        guess.tries.wrong("r", "192.0.2.1")
    assert guess.tries.wait_s("R ", "192.0.2.1") == PAIR.first_s
    assert guess.tries.wait_s("q", "192.0.2.1") == 0
    assert guess.tries.wait_s("r", "192.0.2.2") == 0


def test_no_name_is_guessed_at_more_than_a_hundred_times_an_hour_from_one_place_or_a_hundred() -> None:
    assert Guess().wrong_for(3600, "r", "192.0.2.1") <= 30
    many = [f"192.0.2.{number}" for number in range(100)]
    guess = Guess()
    guess.wrong_for(3600, "r", *many)  # the free ones
    assert guess.wrong_for(3600, "r", *many) <= 100


def test_no_address_tries_many_names_fast() -> None:
    guess = Guess()
    for number in range(ADDRESS.free):
        guess.tries.wrong(f"person {number}", "192.0.2.1")
    assert guess.tries.wait_s("another", "192.0.2.1") == ADDRESS.first_s


def test_whoever_guesses_keeps_nobody_out_where_they_have_entered_before() -> None:
    guess = Guess()
    guess.tries.right("R. Example", "192.0.2.7")
    many = [f"198.51.100.{number}" for number in range(50)]
    guess.wrong_for(3600, "R. Example", *many)
    assert guess.tries.wait_s("R. Example", "192.0.2.7") == 0
    assert 0 < guess.tries.wait_s("R. Example", "192.0.2.8") <= NAME.longest_s
    guess.clock.now_s += NAME.longest_s
    assert guess.tries.wait_s("R. Example", "192.0.2.8") == 0


def test_an_own_right_password_does_not_buy_guesses_at_anothers() -> None:
    guess = Guess()
    for _ in range(PAIR.free):
        guess.tries.wrong("victim", "192.0.2.1")
        guess.tries.right("guesser", "192.0.2.1")
    assert guess.tries.wait_s("victim", "192.0.2.1") > 0


def test_a_right_one_and_time_forget_what_was_wrong() -> None:
    guess = Guess()
    for _ in range(PAIR.free - 1):
        guess.tries.wrong("r", "192.0.2.1")
    guess.tries.right("r", "192.0.2.1")
    guess.tries.wrong("r", "192.0.2.1")
    assert guess.tries.wait_s("r", "192.0.2.1") == 0
    for _ in range(PAIR.free):
        guess.tries.wrong("r", "192.0.2.1")
    guess.clock.now_s += PAIR.longest_s + FORGOTTEN_S + 1
    guess.tries.wrong("r", "192.0.2.1")
    assert guess.tries.wait_s("r", "192.0.2.1") == 0


def test_what_is_remembered_is_bounded() -> None:
    guess = Guess()
    for number in range(REMEMBERED_MAX):
        guess.tries.wrong("n" * 4000 + str(number), f"2001:db8::{number:x}")
        guess.tries.right(f"person {number}", f"192.0.2.{number}")
    for number in range(10):
        guess.tries.wrong(f"new {number}", "192.0.2.1")
    assert len(guess.tries._wrong) <= REMEMBERED_MAX
    assert len(guess.tries._entered) <= REMEMBERED_MAX
    assert max(len(part) for key in guess.tries._wrong for part in key) < 200


def test_one_machine_has_many_addresses_of_ipv6() -> None:
    guess = Guess()
    for number in range(PAIR.free):
        guess.tries.wrong("r", f"2001:db8::{number:x}")
    assert guess.tries.wait_s("r", "2001:db8::ffff") > 0
    assert guess.tries.wait_s("r", "2001:db8:0:1::1") == 0
    assert guess.tries.wait_s("r", "fe80::1%eth0") == 0
    assert guess.tries.wait_s("r", "") == 0


@pytest.mark.slow
async def test_too_many_wrong_ones_are_told_to_wait_and_cost_nothing_more(tmp_path: Path) -> None:
    async with site(tmp_path) as made, made.browser() as browser:
        answers = [await _try(browser, "wrong") for _ in range(PAIR.free + 1)]
        assert answers[-1].json() == {"error": "Too many wrong tries: wait 10 s."}
        assert (await _try(browser, CREDENTIAL)).status_code == 403
        made.clock.now_s += 11
        assert (await _try(browser, CREDENTIAL)).status_code == 200


def _try(browser: httpx.AsyncClient, password: str) -> Awaitable[httpx.Response]:
    return browser.post("/enter", data={"name": "R. Example", "password": password})


@pytest.mark.slow
@pytest.mark.usefixtures("hashes_cost_in_full")
async def test_nothing_waits_while_a_password_is_held_against_its_hash(tmp_path: Path) -> None:
    """The loop's thread works less in one turn than a hash takes, however busy the machine is."""
    began_s = time.thread_time()
    staff = Staff(Person(name="R. Example", role="work", password=hashed(PASSWORD)))
    hash_s = time.thread_time() - began_s
    async with site(tmp_path, people=staff.now) as made, made.browser() as browser:
        trying = [asyncio.ensure_future(_try(browser, "wrong")) for _ in range(3)]
        longest_s, turns = 0.0, 0
        while not all(one.done() for one in trying):
            began_s = time.thread_time()
            await asyncio.sleep(0.001)
            longest_s, turns = max(longest_s, time.thread_time() - began_s), turns + 1
        assert longest_s < hash_s / 2
        assert turns > 10  # nor did it wait for the interpreter


# -- the file


def test_a_person_is_added_changed_and_read_again(tmp_path: Path) -> None:
    file = tmp_path / "people.toml"
    people = with_person(People(), "  R.   Example ", "work", PASSWORD)
    people = with_person(people, 'Q. "Sample" \\', "look", PASSWORD)
    people = with_person(people, "r. example", "own", PASSWORD * 2)
    write_people(file, people)
    assert read_people(file) == people
    assert [(one.name, one.role) for one in people.person] == [
        ('Q. "Sample" \\', "look"),
        ("r. example", "own"),
    ]
    assert file.stat().st_mode & 0o777 == 0o600
    assert PASSWORD not in file.read_text()


async def test_the_file_is_read_again_and_one_that_is_broken_lets_nobody_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "people.toml"
    write_people(file, People(person=(TECHNICIAN,)))
    people = PeopleFile(file)
    assert people.now().named("R. Example") is not None
    write_people(file, People(person=(FOREMAN,)))
    assert people.now().named("R. Example") is None
    assert people.now().named("Q. Sample") is not None
    for broken in ("[[person]]\nname = 1\n", None):
        if broken is None:
            file.unlink()
        else:
            file.write_text(broken)
        assert people.now() == People()
        people.now()
    said = capsys.readouterr()
    assert (said.out + said.err).count("nobody is let in") == 2
    write_people(file, People(person=(FOREMAN,)))
    assert people.now().named("Q. Sample") is not None
