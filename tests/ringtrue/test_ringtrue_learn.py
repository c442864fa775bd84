"""`ringtrue learn` as its user has it: a process, a gauge on a pseudo-terminal, and hands that do as told."""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from drivers.encoding import Encoder
from ringtrue.cli import main
from simulators.port import PtyPort
from tests.drivers.support import profile
from tests.link.outside import WAIT_S
from tests.ringtrue.leaving import exit_code
from tests.ringtrue.test_ringtrue_run import finished

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
PERIOD_S = 0.02


class Bench:
    """A gauge that sends by itself, of where hands have put it; None: they move it to and fro."""

    def __init__(self, name: str, port: PtyPort) -> None:
        self._encoder, self._port = Encoder(profile(name)), port
        self._rng = random.Random(1)
        self.place: float | None = 0.0
        self.asked = b""

    async def sends(self) -> None:
        loop = asyncio.get_running_loop()
        while self._port.plugged:
            at = self.place if self.place is not None else 24.0 * abs(loop.time() / 4.0 % 1.0 - 0.5) - 6.0
            self._port.write(self._encoder.frame(round(at * 1e3 + self._rng.randint(0, 1)) * 1_000))
            self.asked += self._port.read()
            await asyncio.sleep(PERIOD_S)


@asynccontextmanager
async def bench(name: str, folder: Path) -> AsyncIterator[tuple[Bench, PtyPort]]:
    with PtyPort(folder / "gauge") as port:
        gauge = Bench(name, port)
        task = asyncio.create_task(gauge.sends())
        try:
            yield gauge, port
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)


async def learn(
    gauge: Bench, port: PtyPort, *arguments: str, leave: str = "", kill: bool = False
) -> tuple[int, str, str]:
    """Exit code, standard output and error. leave: at this word nobody moves it; kill: Ctrl-C there."""
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "ringtrue", "learn", str(port.path), *arguments),
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
        cwd=port.path.parent,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    said = ""
    async with asyncio.timeout(2 * WAIT_S):
        while data := await process.stderr.read(4096):
            said += data.decode()
            if not said.endswith("Enter: "):
                continue
            last = said.rpartition("\n")[2]
            if leave and leave in last:
                if kill:
                    process.send_signal(signal.SIGINT)
                    continue
                port.unplug()
            elif "further in." in last:
                gauge.place = 1.0
            elif "further out" in last:
                gauge.place = -1.0
            elif "slowly" in last:
                gauge.place = None
            process.stdin.write(b"\n")
        out = (await process.stdout.read()).decode()
        process.stdin.close()
        return await process.wait(), out, said


async def test_a_line_is_learnt_checked_and_written_once(tmp_path: Path) -> None:
    async with bench("line-mm", tmp_path) as (gauge, port):
        code, out, _ = await learn(gauge, port, "--id", "shelf")
        assert code == 0
        assert 'profile = "shelf.toml"' in out
        assert "resolution_mm = 0.001" in out
        assert "it read 0" in out
        assert gauge.asked == b""
    assert main(["check", str(tmp_path / "shelf.toml")]) == 0
    assert {name for name in os.listdir(tmp_path) if name != "gauge"} == {"shelf.toml"}  # noqa: PTH208 names, not paths


async def test_digits_need_a_travel_and_its_speed_may_be_told(tmp_path: Path) -> None:
    async with bench("digits-mm", tmp_path) as (gauge, port):
        code, out, said = await learn(gauge, port, "--baud", "9600", "--frame", "8N1", "--json")
    assert code == 0, said
    answer = json.loads(out)
    assert (answer["answer"], answer["file"], answer["unit"]) == ("found", "learnt-gauge.toml", "mm")
    assert "slowly" in said


async def test_a_gauge_that_was_not_moved_is_unknown_and_nothing_is_written(tmp_path: Path) -> None:
    async with bench("line-mm", tmp_path) as (gauge, port):
        gauge.place = 0.0
        code, out, said = await learn(gauge, port, "--move", "500")
        assert (code, out) == (1, "")
        assert "unknown: " in said
        assert "9600 8N1: " in said
    assert {name for name in os.listdir(tmp_path) if name != "gauge"} == set()  # noqa: PTH208 names, not paths


@pytest.mark.parametrize(("kill", "code", "words"), [(True, 130, "nothing is written"), (False, 3, "gauge")])
async def test_ctrl_c_or_a_cable_pulled_out_is_one_line_and_nothing_is_written(
    tmp_path: Path, kill: bool, code: int, words: str
) -> None:
    async with bench("line-mm", tmp_path) as (gauge, port):
        left, out, said = await learn(gauge, port, leave="further in.", kill=kill)
    assert (left, out) == (code, "")
    assert words in said.rstrip("\n").rpartition("\n")[2]
    assert "Traceback" not in said
    assert [name for name in os.listdir(tmp_path) if name.endswith(".toml")] == []  # noqa: PTH208 names, not paths


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("none",), 3, "plug the gauge in"),
        (("none", "-o", "there.toml"), 2, "not there yet"),
        (("none", "-o", "nowhere/x.toml"), 2, "a folder that is there"),
        (("none", "--id", "My Gauge"), 2, "small letters"),
        (("none", "--request", "read"), 2, "--may-transmit"),
        (("none", "--may-transmit", "--request", "\\"), 2, "single bytes"),
        (("none", "--move", "0"), 2, "above zero"),
        (("none", "--frame", "8X1"), 2, "8N1, 7E1"),
        (("none", "--interface", "3"), 2, "a place of USB, such as usb:1-2"),
        (("usb:9-9", "--interface", "999"), 2, "no whole number from 0 to 255"),
        (("usb:9-9", "--baud", "9600"), 2, "only a serial port has a speed"),
        (("/dev/input/none", "--may-transmit"), 2, "nothing can be sent to a gauge that types"),
        (("/dev/input/none",), 3, "plug the gauge in"),
        (("usb:9-9", "--key"), 2, "no other has modem lines"),
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
    Path("there.toml").write_text("kept")
    left = exit_code("learn", *arguments)
    told = capsys.readouterr().err
    assert left == code
    assert said in told.rstrip("\n").rpartition("\n")[2]
    assert [one.name for one in tmp_path.iterdir()] == ["there.toml"]


async def test_a_port_without_modem_lines_has_no_key_and_nobody_is_asked(tmp_path: Path) -> None:
    async with bench("line-mm", tmp_path) as (gauge, port):
        code, out, said = await learn(gauge, port, "--key")
    assert (code, out) == (3, "")
    assert said.count("\n") == 1
    assert "a key across one needs a serial port" in said


async def test_where_nobody_can_answer_it_says_so(tmp_path: Path) -> None:
    async with bench("line-mm", tmp_path) as (_, port):
        done = await finished("learn", port.path, "-o", tmp_path / "x.toml")
    assert done.process.returncode == 3
    assert "run it in a terminal" in done.err[-1]
