"""`ringtrue run` as its user has it: a process, its log, its exit code; with `send` and `watch` beside it."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import socket
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import pytest

from acquire.journal.writer import Journal
from contract.topics import Topics
from link.broker import Program
from tests.acquire.stand import Stand, stand
from tests.link.outside import WAIT_S, Mosquitto, ear, json_of, mosquitto, until

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
TOPICS = Topics("greywacke", "bay-2")


class Process:
    """One `ringtrue` command: what it says on standard output and error, and how it ends."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self.process = process
        self.out: list[str] = []
        self.err: list[str] = []
        assert process.stdout is not None
        assert process.stderr is not None
        self.reading = [
            asyncio.ensure_future(self._read(process.stdout, self.out)),
            asyncio.ensure_future(self._read(process.stderr, self.err)),
        ]

    async def until_said(self, *words: str) -> str:
        """Wait for a line of the log that has all these words."""
        found: list[str] = []

        def said() -> bool:
            found[:] = [line for line in self.err if all(word in line for word in words)]
            return bool(found) or self.process.returncode is not None

        await until(said)
        assert found, f"{words} not said in {self.err}"
        return found[-1]

    async def ended(self) -> int:
        """Wait for its end; its exit code."""
        async with asyncio.timeout(WAIT_S):
            await self.process.wait()
            await asyncio.wait(self.reading)
        return self.process.returncode or 0

    async def _read(self, stream: asyncio.StreamReader, lines: list[str]) -> None:
        while line := await stream.readline():
            lines.append(line.decode().rstrip("\n"))


@asynccontextmanager
async def ringtrue(*arguments: str | Path, **environ: str) -> AsyncIterator[Process]:
    """The command while the block runs."""
    child = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "ringtrue", *map(str, arguments)),
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
        limit=1 << 20,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environ},
    )
    process = Process(child)
    try:
        yield process
    finally:
        with suppress(ProcessLookupError):
            process.process.kill()
        await process.ended()


async def finished(*arguments: str | Path, **environ: str) -> Process:
    """The command, once it has ended by itself."""
    async with ringtrue(*arguments, **environ) as process:
        await process.ended()
    return process


@pytest.mark.parametrize(("program", "number"), [("mosquitto", signal.SIGTERM), ("iotcore", signal.SIGINT)])
async def test_it_says_where_all_is_and_ends_cleanly(
    program: Program, number: signal.Signals, tmp_path: Path
) -> None:
    config = Stand().config(tmp_path, f'broker = "{program}"\nport = 0')
    async with ringtrue("run", "--config", config) as daemon:
        said = await daemon.until_said("credential=", "url=")
        assert str(tmp_path / "var/broker/password") in said
        assert ("open to all" in said) is (program == "mosquitto")
        url = (tmp_path / "var/broker/url").read_text().strip()
        assert url in said
        await daemon.until_said("indicator-1", "absent")
        await daemon.until_said("encoder-1", "absent")
        daemon.process.send_signal(number)
        assert await daemon.ended() == 0
        assert "stopped" in daemon.err[-1]
        assert not any("Traceback" in line for line in daemon.err)
        assert daemon.out == []
    port = int(url.rpartition(":")[2])
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", port)) != 0, "the broker outlived the daemon"


async def test_a_hangup_is_said_and_ends_nothing(tmp_path: Path) -> None:
    async with ringtrue("run", "--config", Stand().config(tmp_path, "port = 0")) as daemon:
        await daemon.until_said("ready")
        daemon.process.send_signal(signal.SIGHUP)
        await daemon.until_said("hangup ignored")
        daemon.process.send_signal(signal.SIGTERM)
        assert await daemon.ended() == 0


async def test_a_folder_that_cannot_be_written_is_said_with_its_key(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    config = Stand().config(tmp_path, "port = 0")
    run = await finished(
        *("--log-level", "error", "run", "--config", config),
        RINGTRUE_MQTT__FOLDER=str(tmp_path / "file/broker"),
    )
    assert (run.process.returncode, len(run.err)) == (3, 1)
    assert f"{tmp_path}/file/broker: Not a directory" in run.err[0]
    assert "[mqtt] folder" in run.err[0]


async def test_what_is_fatal_is_one_line_and_exit_code_3(tmp_path: Path) -> None:
    config = Stand().config(tmp_path, "port = 0")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        run = await finished("--log-level", "error", "run", "--config", config, RINGTRUE_MQTT__PORT=str(port))
    assert run.process.returncode == 3
    assert len(run.err) == 1
    assert run.err[0].startswith(f"ringtrue: port {port} on 127.0.0.1 cannot be had")

    (tmp_path / "file").write_text("")
    run = await finished(
        "--log-level",
        "error",
        "run",
        "--config",
        config,
        RINGTRUE_JOURNAL__PATH=str(tmp_path / "file/journal.db"),
    )
    assert (run.process.returncode, len(run.err)) == (3, 1)
    assert str(tmp_path / "file") in run.err[0]

    journal = Journal(tmp_path / "used.db")
    run = await finished(
        "--log-level", "error", "run", "--config", config, RINGTRUE_JOURNAL__PATH=str(tmp_path / "used.db")
    )
    journal.close()
    assert (run.process.returncode, len(run.err)) == (3, 1)
    assert "used.db" in run.err[0]


async def test_wrong_configuration_is_all_told_with_exit_code_1(tmp_path: Path) -> None:
    config = Stand().config(tmp_path, 'url = "nowhere"')
    config.write_text(config.read_text().replace('"bay-2"', "2"))
    run = await finished("run", "--config", config)
    assert run.process.returncode == 1
    assert [line.partition(": expected")[0] for line in run.err] == [
        f"{config}:3: bay.name",
        f"{config}:5: mqtt.url",
    ]


async def test_send_and_watch(tmp_path: Path) -> None:
    async with stand() as bench:
        config = bench.config(tmp_path, "port = 0")
        late = await finished("send", "end", "--config", config)
        assert late.process.returncode == 3
        assert "no broker runs for this bay" in late.err[0]
        assert str(tmp_path) not in late.err[0]  # it stands on the wall, too, which asks nobody's name
        async with (
            ringtrue("run", "--config", config) as daemon,
            ringtrue("watch", "--config", config) as watch,
            ringtrue("watch", "--config", config, "--json") as raw,
        ):
            await daemon.until_said("indicator-1", "connected")
            await daemon.until_said("encoder-1", "connected")
            await until(lambda: any("daemon online" in line for line in watch.out))
            await until(lambda: any('"status"' in line or "/status" in line for line in raw.out))
            opened = await finished(
                "send", "open", "engine=2207", "damper=0815", "scope=on-engine", "hours_h=2950",
                "inspection=i-1", "--operator", "me", "--config", config,
            )  # fmt: skip
            assert (opened.process.returncode, opened.out[0]) == (0, "done")
            again = await finished("send", "open", "engine=1", "damper=1", "scope=bench", "--config", config)
            assert again.process.returncode == 1
            assert again.err[0].startswith("refused (out-of-order): ")
            begun = await finished(
                "send", "begin", "check=rim", "gauge=indicator-1", "--json", "--id", "b1", "--config", config
            )
            assert json_of(begun.out[0])["ok"] is True
            repeated = await finished(
                "send", "begin", "check=rim", "gauge=indicator-1", "--json", "--id", "b1", "--config", config
            )
            assert repeated.out == begun.out
            await bench.turn(370, step_deg=1)
            await until(lambda: any(line.startswith("  rim: within") for line in watch.out))
            assert any(line.startswith("rim  angle ") for line in watch.out)
            assert any("indicator-1: connected" in line for line in watch.out)
            topics = {json.loads(line)["topic"] for line in raw.out}
            assert {TOPICS.live, TOPICS.result, TOPICS.gauge_reading("indicator-1")} <= topics
            assert (await finished("send", "end", "x", "--config", config)).process.returncode == 2
            url = (tmp_path / "var/broker/url").read_text().strip()
            nobody = await finished(
                "send", "end", "--url", url, "--bay", "greywacke/bay-2", "--timeout", "0.5"
            )
            assert nobody.process.returncode == 3
            assert "the broker lets this user send no commands" in nobody.err[0]
            watch.process.send_signal(signal.SIGINT)
            assert await watch.ended() == 0


async def test_kill_9_in_the_middle_of_a_sweep_loses_nothing_committed(tmp_path: Path) -> None:
    async with stand() as bench, mosquitto(tmp_path) as broker, ear(broker.address) as heard:
        config = bench.config(tmp_path, f'url = "{broker.address.url}"')
        async with ringtrue("run", "--config", config) as daemon:
            await daemon.until_said("indicator-1", "connected")
            await daemon.until_said("encoder-1", "connected")
            await heard.until_payload("/status", '{"state":"online"}')
            for command in (
                ("open", "engine=e", "damper=d", "scope=on-engine", "inspection=i-1"),
                ("begin", "check=rim", "gauge=indicator-1"),
            ):
                sent = await finished("send", *command, "--config", config)
                assert sent.process.returncode == 0, sent.err
            await bench.turn(200)
            daemon.process.kill()
            await heard.until_payload("/status", '{"state":"offline"}')
            await daemon.ended()
        heard.heard.clear()
        async with ringtrue("run", "--config", config) as daemon:
            await daemon.until_said("inspection resumed", "sweep=rim")
            await heard.until_payload("/status", '{"state":"online"}')
            await daemon.until_said("indicator-1", "connected")
            live = json_of(await heard.until_payload("/live"))
            assert (live["inspection"], live["check"]) == ("i-1", "rim")
            assert live["covered_deg"] > 150
            await bench.turn(400)
            result = json_of(await heard.until_payload("i-1/result"))
            await daemon.until_said("sweep ended")
            assert result["checks"]["rim"]["readings"] > 150


async def test_a_killed_daemon_takes_its_broker_along_and_another_begins_at_once(tmp_path: Path) -> None:
    probe = Mosquitto(tmp_path)  # for its free port only
    config = Stand().config(tmp_path, f"port = {probe.address.port}")
    for _ in range(2):
        async with ringtrue("run", "--config", config) as daemon:
            await daemon.until_said("ready")
            daemon.process.kill()
            await daemon.ended()
