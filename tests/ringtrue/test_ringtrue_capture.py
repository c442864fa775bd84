"""`ringtrue capture` as its user has it, and its files played through the daemon."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from drivers.capture import read_capture
from ringtrue.cli import main
from simulators.port import PtyPort
from tests.acquire.stand import Stand
from tests.drivers.kept_captures import FOLDER
from tests.link.outside import WAIT_S
from tests.ringtrue.leaving import exit_code
from tests.ringtrue.test_ringtrue_run import finished, ringtrue

pytestmark = pytest.mark.slow


@asynccontextmanager
async def gauge(folder: Path, answer: Callable[[bytes], bytes]) -> AsyncIterator[PtyPort]:
    """A gauge on a pseudo-terminal, which looks at its line every 10 ms: what `answer` gives, it sends."""

    async def at_work(port: PtyPort) -> None:
        while True:
            port.write(answer(port.read()))
            await asyncio.sleep(0.01)

    with PtyPort(folder / "gauge") as port:
        task = asyncio.create_task(at_work(port))
        try:
            yield port
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)


async def listened(port: PtyPort) -> None:
    """Until somebody takes what it sends."""
    async with asyncio.timeout(WAIT_S):
        dropped = -1
        while dropped != port.dropped:
            dropped = port.dropped
            await asyncio.sleep(0.1)


def free_running(asked: bytes) -> bytes:
    assert asked == b"", "a gauge that sends by itself was written to"
    return b"+000.190\r\n"


async def test_what_comes_until_ctrl_c_is_in_the_file(tmp_path: Path) -> None:
    file = tmp_path / "shelf.cap"
    async with (
        gauge(tmp_path, free_running) as port,
        ringtrue("capture", port.path, "-o", file, "--note", "on the shelf") as process,
    ):
        await listened(port)
        process.process.send_signal(signal.SIGINT)
        assert await process.ended() == 0, process.err
    capture = read_capture(file)
    heard = b"".join(piece.data for piece in capture.pieces)
    assert heard == b"+000.190\r\n" * (len(heard) // 10)
    assert (capture.reason, capture.head["note"], capture.head["port"]) == (
        "Ctrl-C",
        "on the shelf",
        "9600 8N1",
    )
    assert {one for one in os.listdir(tmp_path) if one != "gauge"} == {"shelf.cap"}  # noqa: PTH208 names, not paths


@pytest.mark.parametrize("may", [False, True])
async def test_a_gauge_is_asked_only_where_that_is_allowed(tmp_path: Path, may: bool) -> None:
    file, asked = tmp_path / "asked.cap", b""

    def answer(request: bytes) -> bytes:
        nonlocal asked
        asked += request
        return b"+  0.190\r" * request.count(b"read\r")

    async with gauge(tmp_path, answer) as port:
        allowed = ["--may-transmit"] if may else []
        done = await finished(
            "capture", port.path, "-o", file, "--seconds", "1", "--profile", "line-requested-mm", *allowed
        )
    assert done.process.returncode == (0 if may else 1), done.err
    assert bool(asked) is may
    if may:
        first, second, *_ = read_capture(file).pieces
        assert (first.sent, first.data, second.sent, second.data) == (True, b"read\r", False, b"+  0.190\r")
    else:
        assert "--may-transmit" in done.err[0]
        assert not file.exists()


async def test_a_port_that_goes_away_leaves_what_came_before(tmp_path: Path) -> None:
    file = tmp_path / "cut.cap"
    async with gauge(tmp_path, free_running) as port, ringtrue("capture", port.path, "-o", file) as process:
        await listened(port)
        port.unplug()
        assert await process.ended() == 3
    assert len(process.err) == 1
    assert "gauge" in process.err[0]
    assert read_capture(file).heard_bytes > 0


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("none",), 3, "plug the gauge in"),
        (("none", "-o", "there.cap"), 2, "not there yet"),
        (("none", "-o", "nowhere/x.cap"), 2, "a folder that is there"),
        (("none", "--may-transmit"), 2, "the profile that says what to ask"),
        (("none", "--profile", "nothing"), 3, "these ship"),
        (("none", "--frame", "9N1"), 2, "8N1, 7E1"),
        (("none", "--baud", "fast"), 2, "no speed"),
        (("none", "--seconds", "0"), 2, "above zero"),
    ],
)
def test_what_cannot_be_is_one_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    code: int,
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("there.cap").write_text("kept")
    left = exit_code("capture", *arguments)
    told = capsys.readouterr().err
    assert (left, told.count("\n")) == (code, 1)
    assert said in told
    assert [one.name for one in tmp_path.iterdir()] == ["there.cap"]


async def test_a_bay_plays_captures_under_another_name(tmp_path: Path) -> None:
    config = Stand().config(tmp_path, "port = 0")
    captures = {"indicator-1": "line-mm", "encoder-1": "encoder-degrees"}
    played = [f"--from-capture={one}={FOLDER / name}.cap?speed=2" for one, name in captures.items()]
    async with ringtrue("run", "--config", config, *played) as daemon:
        await daemon.until_said("indicator-1", "connected", "capture:")
        await daemon.until_said("encoder-1", "connected", "capture:")
        daemon.process.send_signal(signal.SIGTERM)
        assert await daemon.ended() == 0
    assert any("bay-2-replay" in line for line in daemon.err)
    assert (tmp_path / "var/replay/journal.db").exists()
    assert not (tmp_path / "var/journal.db").exists()


@pytest.mark.parametrize(
    ("played", "said"),
    [
        ("indicator-1", "GAUGE=FILE"),
        ("indicator-9=x.cap", "indicator-1"),
        ("indicator-1=x.cap", "No such file"),
        ("indicator-1=.", "Is a directory"),
        (f"indicator-1={FOLDER}/line-mm.readings", "not a capture"),
        (f"indicator-1={FOLDER}/line-mm.cap?speed=0", "a speed such as ?speed=20"),
        (f"indicator-1={FOLDER}/line-mm.cap?speed=fast", "a speed such as ?speed=20"),
        (f"indicator-1={FOLDER}/line-mm.cap?quick", "a speed such as ?speed=20"),
    ],
)
def test_a_capture_that_cannot_be_played_is_told_before_the_bay_begins(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    played: str,
    said: str,
) -> None:
    config = Stand().config(tmp_path, "port = 0")
    monkeypatch.chdir(tmp_path)
    assert main(["run", "--config", str(config), "--from-capture", played]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert not (tmp_path / "var").exists()


def test_a_gauge_plays_one_capture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = Stand().config(tmp_path, "port = 0")
    played = f"--from-capture=indicator-1={FOLDER}/line-mm.cap"
    assert main(["run", "--config", str(config), played, played]) == 2
    assert "expected indicator-1 once" in capsys.readouterr().err


def test_a_bay_s_own_file_may_not_name_a_capture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = Stand().config(tmp_path, "port = 0")
    config.write_text(config.read_text().replace("socket://", "capture:", 1))
    assert main(["check", str(config)]) == 1
    assert "ringtrue run --from-capture plays a capture" in capsys.readouterr().err
