"""`ringtrue display` as its user has it, and as the daemon's child."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import ssl
import sys
import time
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from display.web.people import People, read_people, with_person, write_people
from ringtrue.cli import main
from ringtrue.commands.run import BESIDE_NICE
from tests.acquire.stand import Stand
from tests.display.site import stream
from tests.link.certificates import certificate, write_pem
from tests.link.outside import free_port, until
from tests.ringtrue.test_ringtrue_run import Process, finished, ringtrue

pytestmark = pytest.mark.slow

PASSWORD = "a long enough one"


def config(folder: Path, display: str = "", port: int = 0) -> Path:
    """Of a bay whose broker is its daemon's."""
    file = Stand().config(folder, f"port = {port}")
    file.write_text(f"{file.read_text()}[display]\n{display}\n")
    return file


def secured(folder: Path) -> str:
    """A certificate, its key, and a file of people, as the configuration names them."""
    authority = certificate("the shop's authority")
    write_pem(folder, "ca", authority)
    write_pem(folder, "pages", certificate("pages", authority))
    write_people(folder / "people.toml", with_person(People(), "R. Example", "work", PASSWORD))
    return 'certificate = "pages.crt"\nkey = "pages.key"\npeople = "people.toml"'


async def wall_of(process: Process) -> str:
    """Where it says that the wall is."""
    line = await process.until_said("wall=")
    return next(word.removeprefix("wall=") for word in line.split() if word.startswith("wall="))


async def test_it_says_where_the_pages_are_and_ends_with_streams_open(tmp_path: Path) -> None:
    async with ringtrue("display", "--config", config(tmp_path), "--listen", "127.0.0.1:0") as pages:
        wall = await wall_of(pages)
        async with httpx.AsyncClient() as browser, stream(browser, f"{wall}/stream") as page:
            assert "start `ringtrue run`" in (await page.until("broker"))["away"]
            began_s = time.monotonic()
            pages.process.send_signal(signal.SIGTERM)
            assert await pages.ended() == 0
            assert time.monotonic() - began_s < 3
            await page.ends()
        assert len(pages.err) == 1, pages.err


async def test_beyond_this_machine_it_speaks_tls_and_asks_who_it_is(tmp_path: Path) -> None:
    file = config(tmp_path, 'listen = "0.0.0.0:0"\n' + secured(tmp_path))
    async with ringtrue("display", "--config", file) as pages:
        port = (await wall_of(pages)).rpartition(":")[2].removesuffix("/wall")
        context = ssl.create_default_context(cafile=str(tmp_path / "ca.crt"))
        root = f"https://127.0.0.1:{port}"
        async with httpx.AsyncClient(base_url=root, verify=context, headers={"X-Ringtrue": "1"}) as browser:
            assert (await browser.get("/wall")).status_code == 200
            assert (await browser.get("/bench")).headers["location"] == "/enter?next=/bench"
            said = {"name": "r. example", "password": PASSWORD}
            assert (await browser.post("/enter", data=said)).status_code == 200
            assert (await browser.get("/bench")).status_code == 200
            assert (await browser.get("/api/me")).json()["role"] == "work"
            people = read_people(tmp_path / "people.toml")
            write_people(tmp_path / "people.toml", with_person(people, "R. Example", "look", PASSWORD))
            assert (await browser.get("/bench")).status_code == 303
        pages.process.send_signal(signal.SIGINT)
        assert await pages.ended() == 0
    assert PASSWORD not in "".join(pages.err)


BEYOND = 'listen = "0.0.0.0:0"\n'


@pytest.mark.parametrize(
    ("display", "words"),
    [
        (BEYOND, ["certificate", "beyond this machine the pages need certificate, key and people"]),
        (BEYOND + 'certificate = "pages.crt"', ["key", "beside certificate"]),
        (BEYOND + 'certificate = "pages.crt"\nkey = "pages.key"', ["people", "beyond this machine"]),
        ('listen = "bay.quarry.example:0"', ["certificate", "beyond this machine"]),
        ('listen = "127.0.0.1"', ["listen", "HOST:PORT such as 127.0.0.1:8080"]),
        ('listen = "127.0.0.1:99999"', ["listen", "HOST:PORT"]),
        ('listen = "http://127.0.0.1:80/"', ["listen", "HOST:PORT"]),
        ('certificate = "none.crt"\nkey = "pages.key"', ["none.crt", "cannot be read"]),
        ('certificate = "pages.crt"\nkey = "ca.key"', ["certificate, key", "key values mismatch"]),
        ('certificate = "people.toml"\nkey = "pages.key"', ["certificate, key", "PEM"]),
        ('certificate = "pages.crt"\nkey = "locked.key"', ["locked.key has a password"]),
        ('people = "none.toml"', ["none.toml", "ringtrue display --add"]),
        ('people = "pages.crt"', ["pages.crt"]),
        ('people = "plain.toml"', ["plain.toml:4", "never the password itself"]),
        ('colour = "red"', ["colour"]),
    ],
)
def test_what_is_wrong_is_one_line_and_nothing_is_served(
    display: str, words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    secured(tmp_path)
    _locked(tmp_path)
    (tmp_path / "plain.toml").write_text(
        '[[person]]\nname = "R. Example"\nrole = "work"\npassword = "plain"\n'
    )
    assert main(["display", "--config", str(config(tmp_path, display))]) == 3
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1, said.err
    for word in words:
        assert word in said.err


def _locked(folder: Path) -> None:
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    (folder / "locked.key").write_bytes(
        ec.generate_private_key(ec.SECP256R1()).private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.BestAvailableEncryption(b"locked"),
        )
    )


@pytest.mark.parametrize(
    ("listen", "word"),
    [
        ("nowhere.invalid:0", "certificate"), ("127.0.0.1", "HOST:PORT"), ("", "HOST:PORT"),
        ("0.0.0.0:0", "certificate"), ("127.0.0.250.example:1", "certificate"),
    ],
)  # fmt: skip
def test_a_bad_listen_on_the_command_line_is_one_line(
    listen: str, word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["display", "--config", str(config(tmp_path)), "--listen", listen]) == 3
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert word in said


def test_a_port_that_is_taken_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        port = taken.getsockname()[1]
        code = main(["display", "--config", str(config(tmp_path)), "--listen", f"127.0.0.1:{port}"])
    assert code == 3
    said = capsys.readouterr().err
    assert f"127.0.0.1:{port} cannot be had" in said
    assert "choose another port" in said
    assert said.count("\n") == 1


def test_without_a_configuration_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["display", "--config", str(tmp_path / "none.toml")]) == 3
    assert "no such file" in capsys.readouterr().err


# -- people


async def add(folder: Path, typed: str, *more: str) -> tuple[int, str, str]:
    """`--add` with a password by a pipe."""
    child = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "ringtrue", "display", "--config", str(folder / "bay.toml"), *more),
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    out, err = await child.communicate(typed.encode())
    return child.returncode or 0, out.decode(), err.decode()


async def test_people_are_added_by_a_pipe(tmp_path: Path) -> None:
    config(tmp_path, 'people = "staff/people.toml"')
    code, out, err = await add(tmp_path, f"{PASSWORD}\n", "--add", "R. Example")
    assert (code, err) == (0, "")
    assert out.startswith("R. Example may work: ")
    assert PASSWORD not in out
    file = tmp_path / "staff/people.toml"
    before = file.read_bytes()
    for typed, name, word in (("short\n", "Q. Sample", "12 to 128"), (PASSWORD, "a\tb\x7f", "a name has")):
        code, out, err = await add(tmp_path, typed, "--add", name, "--role", "own")
        assert (code, out) == (3, "")
        assert word in err
        assert err.count("\n") == 1
        assert file.read_bytes() == before


def test_people_are_added_on_a_terminal_twice_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = config(tmp_path, 'people = "people.toml"')
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    answers = iter([PASSWORD, "another one, too", PASSWORD, PASSWORD])
    monkeypatch.setattr("getpass.getpass", lambda _: next(answers))
    command = ["display", "--config", str(file), "--add", "R. Example", "--role", "own"]
    assert main(command) == 2
    assert not (tmp_path / "people.toml").exists()
    assert main(command) == 0
    person = read_people(tmp_path / "people.toml").named("R. Example")
    assert person is not None
    assert person.role == "own"
    assert "two different passwords" in capsys.readouterr().err


def test_adding_needs_a_file_and_a_role_a_person(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = config(tmp_path)
    assert main(["display", "--config", str(file), "--add", "R. Example"]) == 2
    assert "no [display] people" in capsys.readouterr().err
    assert main(["display", "--config", str(file), "--role", "own"]) == 2
    assert "--add NAME" in capsys.readouterr().err


# -- as the daemon's child


def children(pid: int) -> dict[int, str]:
    """The processes that a process has started, and their command lines (proc(5))."""
    found = {}
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            if f"\nPPid:\t{pid}\n" in status.read_text():
                found[int(status.parent.name)] = (status.parent / "cmdline").read_text().replace("\0", " ")
        except OSError:
            continue
    return found


def is_running(pid: int) -> bool:
    """Whether there is such a process."""
    return Path(f"/proc/{pid}").exists()


async def pages_of(daemon: Process) -> int:
    """The process of its pages."""
    found: list[int] = []

    def is_there() -> bool:
        found[:] = [pid for pid, line in children(daemon.process.pid).items() if " display " in line]
        return bool(found)

    await until(is_there)
    return found[0]


async def test_the_daemon_starts_its_pages_again_and_ends_them(tmp_path: Path) -> None:
    port = free_port()
    file = config(tmp_path, f'listen = "127.0.0.1:{port}"')
    async with ringtrue("run", "--config", file) as daemon:
        wall = await wall_of(daemon)
        async with httpx.AsyncClient() as browser:
            async with stream(browser, f"{wall}/stream") as page:
                await page.until("bay", lambda told: told.get("status", {}).get("state") == "online")
                first = await pages_of(daemon)
                assert os.getpriority(os.PRIO_PROCESS, first) == min(os.nice(0) + BESIDE_NICE, 19)
                os.kill(first, signal.SIGKILL)
            await daemon.until_said("display ended")
            await until(lambda: len([line for line in daemon.err if "wall=" in line]) == 2)
            second = await pages_of(daemon)
            assert second != first
            async with stream(browser, f"{wall}/stream") as page:
                await page.until("bay", lambda told: told.get("status", {}).get("state") == "online")
                daemon.process.send_signal(signal.SIGTERM)
                assert await daemon.ended() == 0
        assert not is_running(second)
    assert not [line for line in daemon.err if "Traceback" in line]


async def test_pages_that_cannot_be_served_never_stop_the_daemon(tmp_path: Path) -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        file = config(tmp_path, f'listen = "127.0.0.1:{taken.getsockname()[1]}"')
        async with ringtrue("run", "--config", file) as daemon:
            await daemon.until_said("cannot be had")
            await daemon.until_said("display ended")
            await daemon.until_said("url=")
            await daemon.until_said("indicator-1", "absent")
            daemon.process.send_signal(signal.SIGTERM)
            assert await daemon.ended() == 0


async def test_pages_outlive_no_daemon_that_was_killed(tmp_path: Path) -> None:
    file = config(tmp_path, f'listen = "127.0.0.1:{free_port()}"')
    async with ringtrue("run", "--config", file) as daemon:
        await wall_of(daemon)
        pages = await pages_of(daemon)
        daemon.process.kill()
        await daemon.ended()
        await until(lambda: not is_running(pages))


async def test_an_open_display_beyond_the_machine_is_a_mistake_of_the_daemon_too(tmp_path: Path) -> None:
    ended = await finished("run", "--config", config(tmp_path, 'listen = "0.0.0.0:8080"'))
    assert ended.process.returncode == 1
    assert len(ended.err) == 1
    assert "beyond this machine" in ended.err[0]
