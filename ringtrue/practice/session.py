"""Practice on this machine: a daemon of its own in a folder, pseudo-terminals for its gauges, one trainee."""

from __future__ import annotations

import asyncio
import json
import os
import sys
import textwrap
import threading
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

from acquire.clock import RealClock
from acquire.journal.reader import JournalReader
from config.bay import BayFiles
from contract.live import Live
from contract.result import Result
from contract.topics import Topics
from contract.wire import rfc3339
from link.client import BayClient
from link.connection import Connection
from link.errors import NothingHeardError, RefusedError
from ringtrue.child import daemon_child
from ringtrue.demo_folder import ENCODER, INDICATOR, MICROMETER, DemoFolder
from ringtrue.demo_report import LiveLine, called_as
from ringtrue.practice.bay import journal_result
from ringtrue.practice.practising import Practice, Task
from ringtrue.practice.report import lines
from ringtrue.practice.review import Review
from ringtrue.practice.sight import NAME_WIDTH
from ringtrue.staging import START_MAX_S, end_on_signals, ended, in_session, open_inspection, while_all_run
from simulators.port import PtyPort
from simulators.timeline import Timeline

OPERATOR = "trainee"
# Columns of running text.
WIDTH = 79
# Real seconds by which a frame may be late before the workshop's clock waits, as at the demo.
LATE_MOST_S = 0.002
# Seconds that the bay may take to say what it was waited for.
NEWS_MAX_S = 10.0
# Live messages that must have come after the last reading of an act: the first may have been on its way.
LIVES = 3
# Commands after which something runs at the bay, or nothing does.
RUNS = {"begin": True, "end": False, "cancel": False}
PROMPT = "practice> "

CAUTIONS = (
    "On a real engine: engine off, isolated, locked out and tagged, cool. Bar by hand only. The maker's "
    "manual, local codes and licensed practice come first."
)


class RealBay:
    """The daemon of the folder, by its broker and its journal."""

    def __init__(self, files: BayFiles, client: BayClient, known: frozenset[str]) -> None:
        self.method = files.method
        self._path = files.settings.journal.path
        self._client = client
        self._known = known
        self.live: Live | None = None
        self.lives = 0

    def take(self, live: Live) -> None:
        """One live message; what an earlier practice left retained is none of this one's."""
        self.live = live if live.inspection is not None and live.inspection not in self._known else None
        self.lives += 1

    async def command(self, name: str, /, **arguments: Any) -> dict[str, Any]:
        reply = await self._client.command(name, **arguments)
        if name in RUNS:
            await self.until(lambda: (self._running is None) is not RUNS[name])
        return reply

    @property
    def _running(self) -> str | None:
        return None if self.live is None else self.live.check

    async def until(self, is_so: Callable[[], bool]) -> bool:
        with suppress(NothingHeardError):
            await self._client.until(is_so, NEWS_MAX_S, "news of the bay")
            return True
        return False

    async def caught_up(self) -> None:
        since = self.lives
        await self.until(lambda: self._running is None or self.lives >= since + LIVES)

    async def result(self) -> Result | None:
        # Beside the loop: meanwhile the gauges must go on, or the daemon calls them silent.
        return await asyncio.to_thread(journal_result, self._path, self._known)


class Session:
    """Everything between the command and its last line. `run()` once. script: acts to play, None for who
    types them."""

    def __init__(self, folder: Path, task: Task, *, speed: float, script: list[str] | None) -> None:
        self._folder = DemoFolder(folder, "practice", has_micrometer=True)
        self._task = task
        self._speed = speed
        self._script = script
        self._line = LiveLine()
        self._files: BayFiles
        self._ports: dict[str, PtyPort]
        self._known: frozenset[str] = frozenset()
        self._left_open: str | None = None

    async def run(self) -> Review | None:
        """Practise; what came of it, None for one who quit. Raises RingtrueError; leaves nothing running."""
        end_on_signals()
        folder = self._folder
        self._files = folder.prepare()
        with folder.alone(), ExitStack() as ports:
            self._ports = {
                gauge: ports.enter_context(PtyPort(folder.port(gauge)))
                for gauge in (INDICATOR, ENCODER, MICROMETER)
            }
            self._known = _inspections(self._files)
            self._left_open = open_inspection(self._files)
            daemon = daemon_child(folder.config, folder.log)
            self._open()
            try:
                await daemon.start()
                review = await while_all_run(in_session(self._files, self._session), ended(daemon))
            finally:
                self._line.end()
                await daemon.stop()
        if review is not None:
            say(lines(review))
            if review.inspection is not None:
                say(["", f"As a document: {self._keep(review)}"])
        return review

    async def _session(self, connection: Connection) -> Review | None:
        settings, ports = self._files.settings, self._ports
        topics = Topics(settings.bay.site, settings.bay.name)
        began = rfc3339(RealClock().utc())
        client = BayClient(connection, topics, OPERATOR, lambda live: self._hear(live, bay, practice))
        bay = RealBay(self._files, client, self._known)
        practice = Practice(
            self._task,
            self._files,
            bay,
            lambda gauge, data: ports[gauge].write(data),
            Timeline(self._speed, late_most_s=LATE_MOST_S),
            lambda gauge: ports[gauge].unread == 0,
        )

        def reads(gauge: str) -> bool:
            state = client.gauges.get(gauge)
            return state is not None and state.state == "connected" and state.since >= began

        async def practise() -> Review | None:
            await client.until(
                lambda: reads(INDICATOR) and reads(ENCODER), START_MAX_S, "readings of both gauges"
            )
            if self._left_open is not None:
                await client.command("abandon", inspection=self._left_open)
            say(["The bay is ready.", ""])
            review = await practice.take(self._typed(), self._say)
            await _abandon(client, await bay.result())
            return review

        await client.subscribe()
        return await while_all_run(practise(), client.listen(), practice.lines.stand())

    def _hear(self, live: Live, bay: RealBay, practice: Practice) -> None:
        bay.take(live)
        if practice.lines.is_turning and bay.live is not None and bay.live.check in ("rim", "face"):
            self._line.show(live)

    def _say(self, said: list[str]) -> None:
        self._line.end()
        say(said)

    async def _typed(self) -> AsyncIterator[str]:
        """The script, told as it is played, and then the end; or what comes from the terminal."""
        if self._script is not None:
            for line in [*self._script, "finish"]:
                if line.strip() and line != "finish":
                    say([f"> {line.strip()}"])
                yield line
            return
        async for line in _from_terminal():
            yield line

    def _open(self) -> None:
        task, folder = self._task, self._folder
        job = task.job()
        what = "practice" if task.exam is None else f"exam {task.exam}"
        told = "help lists what you can do" + ("" if task.exam is not None else "; hint tells the next step")
        for text in (
            f"ringtrue {what}: a haul truck of an invented quarry, engine {job['engine']}, damper "
            f"{job['damper']}, {job['hours_h']} h. Inspect it on the engine and on the bench, decide, and "
            "sign. All of it is simulated but the bay's daemon, which is the real one.",
            CAUTIONS,
            f"{told}. From another terminal: {called_as()} watch --config {folder.config}",
        ):
            print(textwrap.fill(text, WIDTH, break_on_hyphens=False, break_long_words=False), end="\n\n")

    def _keep(self, review: Review) -> Path:
        folder = self._folder.folder / "practised"
        folder.mkdir(exist_ok=True)
        file = folder / f"{review.inspection}.json"
        file.write_text(json.dumps(review.as_data(), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
        return file


def say(said: Iterable[str]) -> None:
    """Lines, each wrapped, and what goes on hung under how it began."""
    for line in said:
        indent = len(line) - len(line.lstrip())
        hang = indent + (NAME_WIDTH if line[NAME_WIDTH - 2 : NAME_WIDTH] == "  " else 2)
        text = textwrap.wrap(
            line, WIDTH, subsequent_indent=" " * hang, break_on_hyphens=False, break_long_words=False
        )
        print("\n".join(text), flush=True)


async def _from_terminal() -> AsyncIterator[str]:
    """Lines of standard input until its end. A thread reads, as a file cannot be waited for; with `os.read`,
    as a thread that holds a buffer's lock must not be left behind."""
    loop, queue = asyncio.get_running_loop(), asyncio.Queue[bytes]()

    def read() -> None:
        data = b"-"
        while data:
            try:
                data = os.read(0, 4096)
            except OSError:
                data = b""
            with suppress(RuntimeError):  # the loop is gone
                loop.call_soon_threadsafe(queue.put_nowait, data)

    threading.Thread(target=read, daemon=True, name="terminal").start()
    rest = b""
    while True:
        if sys.stdin is not None and sys.stdin.isatty():
            print(PROMPT, end="", flush=True)
        while b"\n" not in rest:
            data = await queue.get()
            if not data:
                if rest:
                    yield rest.decode(errors="replace")
                return
            rest += data
        line, _, rest = rest.partition(b"\n")
        yield line.decode(errors="replace")


async def _abandon(client: BayClient, result: Result | None) -> None:
    """What the trainee left open is no inspection."""
    if result is not None and result.state == "open":
        with suppress(RefusedError, NothingHeardError):
            await client.command("abandon", inspection=result.inspection)


def _inspections(files: BayFiles) -> frozenset[str]:
    """Those of earlier practices."""
    if not files.settings.journal.path.is_file():
        return frozenset()
    reader = JournalReader(files.settings.journal.path)
    try:
        return frozenset(reader.inspections())
    finally:
        reader.close()
