"""What a measurement stands on: a broker of its own, a bay's configuration, the daemon as it is run."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from link.broker import find_mosquitto
from tests.benchmarks.board import prefer, until
from tests.link.outside import free_port

ROOT = Path(__file__).parents[2]
SITE, BAY = "greywacke", "bay-2"
READINGS = f"ringtrue/1/{SITE}/{BAY}/gauge/+/reading"
ENCODER = "encoder-1"
STOP_S = 15.0

# The line archetypes that ship, with more digits: 13 bytes.
_PROFILE = """schema = "ringtrue/gauge/1"
id = "{id}"
description = "thirteen bytes"
[port]
baud = 115200
[framing]
kind = "line"
terminator = "\\r\\n"
max_bytes = 16
[value]
pattern = '(?P<value>{pattern})'
template = "{template}"
unit = "{unit}"
[manner]
kind = "free-running"
period_s = 0.5
[[proof]]
text = "{proof}\\r\\n"
values = [{value}]
"""


@contextmanager
def folder() -> Iterator[Path]:
    """An empty folder, gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="ringtrue-bench-") as name:
        yield Path(name)


@contextmanager
def broker(place: Path) -> Iterator[int]:
    """A mosquitto that delays nothing and drops nothing; its port."""
    program = find_mosquitto()
    if program is None:
        raise FileNotFoundError("the benchmarks need mosquitto: install it")
    port = free_port()
    config = place / "mosquitto.conf"
    config.write_text(
        f"listener {port} 127.0.0.1\nuser root\nallow_anonymous true\n"
        "set_tcp_nodelay true\nmax_queued_messages 0\n"
    )
    child = subprocess.Popen([program, "-c", str(config)], stderr=subprocess.DEVNULL)
    try:
        yield port
    finally:
        child.terminate()
        child.wait()


def write_bay(place: Path, mqtt: str, ports: Sequence[str]) -> Path:
    """The configuration of a bay with indicators on all ports but the last, where its encoder is."""
    (place / "thirteen-mm.toml").write_text(
        _PROFILE.format(
            id="thirteen-mm", pattern=r"[+-]\d{5}\.\d{4}", template="{:+011.4f}", unit="mm",
            proof="+00000.1900", value=190_000,
        )
    )  # fmt: skip
    (place / "thirteen-deg.toml").write_text(
        _PROFILE.format(
            id="thirteen-deg", pattern=r"\d{6}\.\d{4}", template="{:011.4f}", unit="deg",
            proof="000041.2000", value=41_200_000,
        )
    )  # fmt: skip
    text = f'[bay]\nsite = "{SITE}"\nname = "{BAY}"\n[mqtt]\n{mqtt}\n[method]\nfile = "example"\n'
    for number, port in enumerate(ports[:-1], 1):
        text += (
            f'[[gauge]]\nid = "indicator-{number}"\nprofile = "thirteen-mm.toml"\nport = "{port}"\n'
            "resolution_mm = 0.001\nmpe_mm = 0.004\n"
        )
    text += f'[[gauge]]\nid = "{ENCODER}"\nprofile = "thirteen-deg.toml"\nport = "{ports[-1]}"\n'
    text += f'[angle]\nsource = "encoder"\ngauge = "{ENCODER}"\n'
    file = place / "bay.toml"
    file.write_text(text)
    return file


# As the unit that ships has it, where this user may; of groups of processes it has the same by `CPUWeight`.
NICE = int(re.findall(r"^Nice=(-?\d+)$", (ROOT / "config/ringtrue.service").read_text(), re.MULTILINE)[0])
_RINGTRUE = "import sys; from ringtrue.cli import main; sys.exit(main())"


@contextmanager
def daemon(config: Path) -> Iterator[int]:
    """`ringtrue run` as its unit runs it, while the block runs; its process id. Compiled modules are kept, as
    installing does."""
    environ = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    with (config.parent / "daemon.log").open("ab") as log:
        child = subprocess.Popen(
            [sys.executable, "-c", _RINGTRUE, "run", "--config", str(config)],
            cwd=ROOT, env=environ, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
            preexec_fn=partial(prefer, NICE),
        )  # fmt: skip
    try:
        yield child.pid
    except TimeoutError as error:
        error.add_note(f"the daemon said last:\n{(config.parent / 'daemon.log').read_text()[-1000:]}")
        raise
    finally:
        child.terminate()
        try:
            child.wait(STOP_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def begin_sweep(config: Path) -> None:
    """Open an inspection and begin its rim, as soon as its gauges are there."""
    _send(config, "open", "engine=GQ-E-2207", "damper=GQ-D-0815", "scope=on-engine")
    until(lambda: _send(config, "begin", "check=rim", "gauge=indicator-1"), "the gauges")


def _send(config: Path, *command: str) -> bool:
    whole = [
        sys.executable,
        "-m",
        "ringtrue",
        "send",
        *command,
        "--config",
        str(config),
        "--operator",
        "R. Example",
    ]
    return not subprocess.run(whole, cwd=ROOT, capture_output=True, check=False).returncode


def cpu_s(pid: int) -> float:
    """Processor seconds that a process has used, all its threads."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def come_to_rest(pid: int) -> None:
    """Until the daemon, which nobody sends anything, has loaded and graded what there was."""

    def is_idle() -> bool:
        before_s = cpu_s(pid)
        settle()
        return cpu_s(pid) - before_s <= 0.02

    until(is_idle, "an idle daemon")


@contextmanager
def all_cores_busy() -> Iterator[None]:
    """A child that does nothing but compute for each core, while the block runs."""
    computing = [sys.executable, "-c", "while True: pass"]
    children = [subprocess.Popen(computing) for _ in os.sched_getaffinity(0)]
    try:
        yield
    finally:
        for child in children:
            child.kill()
            child.wait()


def settle(seconds: float = 0.3) -> None:
    """Let what is under way arrive."""
    time.sleep(seconds)
