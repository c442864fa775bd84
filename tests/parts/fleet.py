"""A small fleet on loopback: bays in few processes, what carries their results, writers, a database."""

from __future__ import annotations

import asyncio
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg

from link.address import BrokerAddress
from link.children import end_child
from tests.parts.bays import Plan, address_as_data
from tests.parts.cluster import Cluster
from tests.parts.running import Part, processor_s

ROOT = Path(__file__).parents[2]
FINISH_S = 100.0
"""Longest wait for all to be on record."""


class Bays:
    """One process of bays. The pipe to it ends with us, and so does it."""

    def __init__(self, plan: Plan, name: str) -> None:
        self._file = plan.write(Path(plan.folder) / f"{name}.json")
        self._issued = Path(plan.folder) / plan.issued
        self._process: asyncio.subprocess.Process

    async def start(self) -> None:
        """Start it; its bays are connected."""
        self._process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "tests.parts.bays", str(self._file),
            cwd=ROOT, stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE,
        )  # fmt: skip
        await self._said(b"up\n")

    async def _said(self, word: bytes, within_s: float = FINISH_S) -> None:
        assert self._process.stdout is not None
        async with asyncio.timeout(within_s):
            while line := await self._process.stdout.readline():
                if line == word:
                    return
        raise AssertionError(f"the bays ended before they said {word.decode().strip()}")

    def go(self) -> None:
        """Have them close their inspections."""
        assert self._process.stdin is not None
        self._process.stdin.write(b"go\n")

    async def sent(self, within_s: float = FINISH_S) -> dict[str, dict[str, str]]:
        """Once every message is acknowledged: what was issued, by bay and inspection, its SHA-256."""
        await self._said(b"sent\n", within_s)
        issued: dict[str, dict[str, str]] = json.loads(self._issued.read_text())
        return issued

    def processor_s(self) -> float:
        return processor_s(self._process.pid)

    async def stop(self) -> None:
        if self._process.returncode is None and self._process.stdin is not None:
            self._process.stdin.close()
        await end_child(self._process, 20.0)


class Writer(Part):
    """`ringtrue writer` as its user has it."""

    def __init__(self, name: str, folder: Path, source: Mapping[str, Any], records: str) -> None:
        self.config = folder / f"{name}.toml"
        head, _, rest = records.partition("://")
        login, _, place = rest.partition("@")
        user, _, password = login.partition(":")
        (folder / "database.password").write_text(password)
        lines = [
            'schema = "ringtrue/writer/1"', "[source]",
            *(f"{key} = {_toml(value)}" for key, value in source.items()),
            "[records]", f'url = "{head}://{user}@{place}"', 'password_file = "database.password"',
        ]  # fmt: skip
        self.config.write_text("\n".join(lines) + "\n")
        command = [sys.executable, "-m", "ringtrue", "writer", "--config", str(self.config)]
        super().__init__(name, folder / f"{name}.log", *command)

    async def until_connected(self) -> None:
        """Its broker keeps a session for it from now on; of a cluster, it reads."""
        async with asyncio.timeout(FINISH_S):
            while "event=connected" not in self.log.read_text():
                self.look()
                await asyncio.sleep(0.05)

    async def prepare(self) -> None:
        """Have the tables made."""
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "ringtrue", "writer", "--config", str(self.config), "--prepare", cwd=ROOT,
            stdout=asyncio.subprocess.DEVNULL,
        )  # fmt: skip
        assert await process.wait() == 0


def _toml(value: object) -> str:
    return json.dumps(value if isinstance(value, list | int) else str(value))


def by_mqtt(address: BrokerAddress, client: str) -> dict[str, Any]:
    """A writer's source."""
    source: dict[str, Any] = {"kind": "mqtt", "url": address.url, "client": client}
    source["ca_file"] = address.ca_file
    if address.certificate is not None:
        return source | {"certificate": address.certificate, "key": address.key}
    password = (address.ca_file or Path()).parent / "writer.password"
    password.write_text(address.password or "")
    return source | {"username": address.username, "password_file": password}


def by_stream(cluster: Cluster, client: str) -> dict[str, Any]:
    """A writer's source."""
    certificate, key = cluster.authority.issue("writer")
    return {
        "kind": "stream", "servers": cluster.servers, "ca_file": cluster.authority.file,
        "certificate": certificate, "key": key, "client": client,
    }  # fmt: skip


def far(address: str) -> BrokerAddress:
    """Where a cluster's address leads."""
    parts = urlsplit(address)
    return BrokerAddress(parts.hostname or "", parts.port or 0)


def plans(folder: Path, addresses: Mapping[str, BrokerAddress], processes: int, **others: Any) -> list[Bays]:
    """Bays shared out among processes."""
    names = list(addresses)
    folder.mkdir(exist_ok=True)
    return [
        Bays(
            Plan(
                bays={name: address_as_data(addresses[name]) for name in names[n::processes]},
                folder=str(folder),
                issued=f"issued-{n}.json",
                **others,
            ),
            f"bays-{n}",
        )
        for n in range(processes)
    ]


Issued = dict[str, dict[str, str]]


async def until_on_record(url: str, issued: Issued) -> None:
    """Wait until every result is on record, with its place in its chain; each once, and nothing else."""
    wanted = sum(map(len, issued.values()))
    async with asyncio.timeout(FINISH_S):
        while True:
            try:
                results, records = await asyncio.to_thread(_counts, url)
            except psycopg.OperationalError:
                results = records = 0
            if results >= wanted and records >= wanted + len(issued):
                break
            await asyncio.sleep(0.25)
    await asyncio.to_thread(_compare, url, issued)


def _connect(url: str) -> psycopg.Connection[Any]:
    return psycopg.connect(url.replace("+psycopg", ""))


def _counts(url: str) -> tuple[int, int]:
    with _connect(url) as database:
        (results,) = database.execute("SELECT count(*) FROM fleet_results").fetchone() or (0,)
        (records,) = database.execute("SELECT coalesce(sum(walked), 0) FROM fleet_chains").fetchone() or (0,)
    return int(results), int(records)


def _compare(url: str, issued: Issued) -> None:
    """Every acknowledged result is on record once, byte for byte, and no chain is broken."""
    with _connect(url) as database:
        rows = database.execute(
            "SELECT r.site || '/' || r.bay, r.inspection, v.sha256 FROM fleet_results r"
            " JOIN fleet_revisions v USING (site, bay, inspection, revision)"
        ).fetchall()
        for view in ("fleet_breaks", "fleet_refused_still", "fleet_unproven", "fleet_missing"):
            (number,) = database.execute(f"SELECT count(*) FROM {view}").fetchone() or (0,)
            assert number == 0, f"{view} has {number}"
    assert sorted(rows) == sorted(
        (bay, one, sha) for bay, some in issued.items() for one, sha in some.items()
    )


def delays_s(url: str) -> list[float]:
    """Of each result from its signature at the bay until it was on record, in order."""
    with _connect(url) as database:
        rows = database.execute(
            "SELECT extract(epoch FROM stored - time::timestamptz) FROM fleet_chain"
            " WHERE inspection IS NOT NULL"
        ).fetchall()
    return sorted(float(delay) for (delay,) in rows)
