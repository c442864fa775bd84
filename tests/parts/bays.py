"""Many bays in one process, each with its own journal, key, chain, outbox and connection: the daemon's code.

    python -m tests.parts.bays PLAN.json

Says `up` once all are connected, waits for a line on its standard input, then has each bay close its
inspections, spread over a while. When every message of every outbox has been acknowledged it writes what was
issued beside the plan, says `sent`, and stays until its standard input ends.
"""

from __future__ import annotations

import asyncio
import json
import random
import sys
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from acquire.journal.outbox import Outbox, result_messages
from acquire.journal.sealer import Sealer
from acquire.journal.writer import Journal
from acquire.publisher import Publisher
from chain.signing import digest
from contract.states import status_payload
from contract.topics import Topics
from contract.wire import encode, rfc3339
from link import bursts
from link.address import BrokerAddress, Will
from link.connection import stay_connected
from link.tasks import end
from tests.chain.signers import signer
from tests.records.reported import FACE, RIM, whole

HARMONICS = 110
"""Of each surface, so that a document is as large as one of a rim of many waves: some 18 kB."""


@dataclass(frozen=True)
class Plan:
    """bays: each its name and where its broker is. results: how many each closes, within `over_s` seconds."""

    bays: dict[str, dict[str, Any]]
    results: int
    over_s: float
    folder: str
    seed: int = 1
    begin: int = 0
    issued: str = "issued.json"
    harmonics: int = field(default=HARMONICS)

    def write(self, file: Path) -> Path:
        """As a file."""
        file.write_text(json.dumps(asdict(self)))
        return file


def address_as_data(address: BrokerAddress) -> dict[str, Any]:
    """For a plan."""
    return {key: str(value) if isinstance(value, Path) else value for key, value in asdict(address).items()}


def _address(data: dict[str, Any]) -> BrokerAddress:
    files = {key: Path(data[key]) for key in ("ca_file", "certificate", "key") if data[key]}
    others: dict[str, Any] = data | files
    return BrokerAddress(**others)


class Bay:
    """One of them."""

    def __init__(self, name: str, address: BrokerAddress, folder: Path) -> None:
        self.name = name
        self.topics = Topics(*name.split("/"))
        self._address = address
        loop = asyncio.get_running_loop()
        file = folder / f"{name.replace('/', '-')}.db"
        self._journal = Journal(file, on_messages=lambda: _call_soon(loop, self._grew))
        self._journal.seal_with(Sealer(signer(name), self.topics, lambda: datetime.now(UTC)))
        self._publisher = Publisher(
            self.topics,
            Outbox(self._journal, "mqtt"),
            live=lambda: b"{}",
            on_command=self._command,
        )
        self.issued: dict[str, str] = {}
        self.resends = 0

    def _grew(self) -> None:
        self._publisher.outbox_grew()

    def _command(self, name: str, payload: bytes, _: bool) -> None:
        """A writer's, which misses something."""
        said = json.loads(payload)
        if name == "resend":
            before, after = self.topics.inspection_result("\0").split("\0")
            reply = said["id"], encode({"id": said["id"], "ok": True})
            self._journal.resend(said["since"], before, after, chain=self.topics.chain, reply=reply)
            self.resends += 1

    async def stay(self) -> None:
        """Connected, for ever."""
        will = Will(self.topics.status, status_payload("offline"))
        await stay_connected(
            lambda: self._address, self._publisher.session, connect=bursts.connect, will=will
        )

    @property
    def is_up(self) -> bool:
        return self._publisher.is_connected

    def close(self, number: int, chance: random.Random, harmonics: int) -> None:
        """An inspection is closed: its result is issued."""
        inspection = f"truck-{number}.{self.topics.bay}"
        now = rfc3339(datetime.now(UTC))
        waves = [
            {
                "order": n,
                "amplitude_mm": round(chance.random() / n, 6),
                "phase_deg": round(chance.random() * 360, 2),
            }
            for n in range(1, harmonics + 1)
        ]
        document = whole(
            inspection=inspection, revision=3, site=self.topics.site, bay=self.topics.bay, opened=now,
            closed=now, signed=now,
            checks={"rim": {**RIM, "harmonics": waves}, "face": {**FACE, "harmonics": waves}},
        )  # fmt: skip
        self.issued[inspection] = digest(document)
        messages = result_messages(self.topics, inspection, document, is_latest=True)
        self._journal.put_result(inspection, 3, document, now, messages)

    async def until_sent(self) -> None:
        """Every message has been acknowledged."""
        await self._journal.flushed()
        while self._journal.pending("mqtt", 1):  # noqa: ASYNC110 the outbox tells nobody
            await asyncio.sleep(0.1)

    def shut(self) -> None:
        self._journal.close()


def _call_soon(loop: asyncio.AbstractEventLoop, what: Callable[[], None]) -> None:
    with suppress(RuntimeError):  # it has ended
        loop.call_soon_threadsafe(what)


async def _play(bay: Bay, plan: Plan) -> None:
    chance = random.Random(f"{plan.seed} {bay.name}")
    times = sorted(chance.random() * plan.over_s for _ in range(plan.results))
    began = asyncio.get_running_loop().time()
    for number, at_s in enumerate(times, plan.begin):
        await asyncio.sleep(max(0.0, began + at_s - asyncio.get_running_loop().time()))
        bay.close(number, chance, plan.harmonics)
    await bay.until_sent()


async def run(plan: Plan) -> None:
    """All of it."""
    folder = Path(plan.folder)
    bays = [Bay(name, _address(data), folder) for name, data in plan.bays.items()]
    staying = [asyncio.ensure_future(bay.stay()) for bay in bays]
    told: Callable[[], Awaitable[str]] = partial(asyncio.to_thread, sys.stdin.readline)
    try:
        while not all(bay.is_up for bay in bays):  # noqa: ASYNC110 told by no event
            await asyncio.sleep(0.05)
        print("up", flush=True)
        if await told():
            await asyncio.gather(*(_play(bay, plan) for bay in bays))
            issued = {bay.name: bay.issued for bay in bays}
            (folder / plan.issued).write_text(json.dumps(issued))
            print("sent", flush=True)
            await told()
    finally:
        await end(*staying)
        for bay in bays:
            bay.shut()


if __name__ == "__main__":
    asyncio.run(run(Plan(**json.loads(Path(sys.argv[1]).read_text()))))
