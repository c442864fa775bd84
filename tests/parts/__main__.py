"""`python -m tests.parts [FOLDER]`: every part of a fleet on this machine, until Ctrl-C.

Started from the files that ship: a broker with its access list, a cluster of three nodes, a database with its
tables, a writer at each of the two, and one bay's own broker, bridged into the cluster. Everything listens on
loopback, lies in FOLDER (a new one of the system's where none is given; the database always), and ends with
this program, whatever ends it.
"""

from __future__ import annotations

import asyncio
import signal
import sys
import tempfile
from contextlib import AsyncExitStack
from pathlib import Path

from tests.parts.authority import Authority
from tests.parts.broker import FleetBroker, bridged_broker
from tests.parts.cluster import Cluster
from tests.parts.fleet import Writer, by_mqtt, by_stream
from tests.parts.postgres import server

BAYS = ("greywacke/bay-1", "greywacke/bay-2")


async def start(folder: Path, stack: AsyncExitStack) -> list[str]:
    """Start all of it; what there is, a line each."""
    postgres = stack.enter_context(server())
    records = postgres.make("fleet")
    authority = Authority(folder / "authority")
    broker = FleetBroker(folder / "broker", authority, BAYS)
    stack.push_async_callback(broker.stop)
    await broker.start()
    cluster = Cluster(folder / "cluster", authority, BAYS)
    stack.push_async_callback(cluster.stop)
    await cluster.start()
    writers = [
        Writer("writer-1", folder, by_mqtt(broker.address("writer"), "writer-1"), records),
        Writer("writer-2", folder, by_stream(cluster, "writer-2"), records),
    ]
    await writers[0].prepare()
    for writer in writers:
        stack.push_async_callback(writer.stop)
        await writer.start()
    await writers[0].until_connected()
    await cluster.until_made()
    own = bridged_broker(folder / "bay-2", BAYS[1], authority, cluster.addresses)
    await own.start()
    stack.push_async_callback(own.stop)
    return [
        f"authority     {authority.file}",
        f"broker        {broker.address('writer').url}   users display, office, writer, {', '.join(BAYS)}; "
        "password: secret of USER",
        f"cluster       {' '.join(cluster.addresses)}   bays and displays, by certificate",
        f"              {' '.join(cluster.servers)}   writers",
        f"database      {records.replace('+psycopg', '')}",
        *(f"{writer.name}      --config {writer.config}   log {writer.log}" for writer in writers),
        f"bay-2         {own.address().url}   user ringtrue, password in {own.password_file}; bridged",
    ]


async def run(folder: Path) -> None:
    """Until a signal."""
    ending = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, ending.set)
    async with AsyncExitStack() as stack:
        said = asyncio.ensure_future(start(folder, stack))
        waiting = asyncio.ensure_future(ending.wait())
        await asyncio.wait((said, waiting), return_when=asyncio.FIRST_COMPLETED)
        if not said.done():
            said.cancel()
            await asyncio.wait((said,))
            return
        print("\n".join(said.result()), flush=True)
        await waiting


def main() -> int:
    """Do it."""
    if len(sys.argv) > 2 or sys.argv[1:2] in (["-h"], ["--help"]):
        print(__doc__)
        return 2 if len(sys.argv) > 2 else 0
    if sys.argv[1:]:
        folder = Path(sys.argv[1]).absolute()
        folder.mkdir(parents=True, exist_ok=True)
        asyncio.run(run(folder))
    else:
        with tempfile.TemporaryDirectory(prefix="ringtrue-parts-", ignore_cleanup_errors=True) as made:
            asyncio.run(run(Path(made)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
