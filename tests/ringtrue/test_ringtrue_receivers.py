"""Every receiver of docs/receivers/ is run against the real thing."""

from __future__ import annotations

import asyncio
import json
import subprocess
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import duckdb
import pytest

from config.settings import read_settings
from contract.health import health_payload
from contract.states import status_payload
from contract.topics import Topics
from display.web.reads import read_routes
from records.store import Store
from ringtrue.cli import main
from ringtrue.showing import Showing
from tests.display.quarry import quarry
from tests.display.site import CREDENTIAL, TOPICS, settled, site
from tests.display.test_display_metrics import HEALTH
from tests.link.outside import WAIT_S, mosquitto, until_listening
from tests.link.test_link_sparkplug import living
from tests.ringtrue.inspecting.line import Line

pytestmark = pytest.mark.slow
RECEIVERS = Path(__file__).parents[2] / "docs/receivers"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bay of the invented quarry, with years of results."""
    folder = tmp_path_factory.mktemp("quarry")
    quarry(folder)
    return folder


def documents(folder: Path) -> dict[str, dict[str, object]]:
    store = Store(f"sqlite:///{folder}/var/records.db", create=False)
    try:
        found = [json.loads(one) for one in store.latest()]
    finally:
        store.close()
    return {f"{one['inspection']}-{one['revision']}": one for one in found}


def export(made: Path, form: str, output: Path) -> Path:
    assert main(["export", "--config", f"{made}/ringtrue.toml", "--format", form, "-o", str(output)]) == 0
    return output


def run(name: str, *arguments: str | Path) -> list[str]:
    command = [sys.executable, RECEIVERS / name, *arguments]
    return subprocess.run(
        command, capture_output=True, text=True, check=True, timeout=WAIT_S
    ).stdout.splitlines()


async def ran(name: str, *arguments: str | Path) -> list[str]:
    return await asyncio.to_thread(run, name, *arguments)


def test_every_receiver_stands_in_the_list_and_is_tried_here() -> None:
    listed = (RECEIVERS / "README.md").read_text()
    here = Path(__file__).read_text()
    names = [path.name for path in RECEIVERS.iterdir() if path.suffix in (".py", ".sql")]
    assert [name for name in names if f"[{name}]({name})" not in listed] == []
    tried = [
        name for name in names if f'"{name}"' in here or name == "webhook.py"
    ]  # that: `forward`'s own tests
    assert sorted(tried) == sorted(names)


def test_json_goes_into_a_database_once(made: Path, tmp_path: Path) -> None:
    file = export(made, "json", tmp_path / "all.json")
    first = run("documents.py", file, tmp_path / "shop.db")
    assert run("documents.py", file, tmp_path / "shop.db") == first
    assert len(first) == len(documents(made))
    assert any("GQ-E-2207" in line and "keep" in line for line in first)


def test_csv_goes_into_a_database_once(made: Path, tmp_path: Path) -> None:
    file = export(made, "csv", tmp_path / "all.csv")
    first = run("table.py", file, tmp_path / "shop.db")
    assert run("table.py", file, tmp_path / "shop.db") == first
    assert any(line.endswith("rim over") for line in first)


def test_parquet_goes_into_duckdb_once(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    export(made, "parquet", tmp_path / "quarry.parquet")
    monkeypatch.chdir(tmp_path)
    sql = (RECEIVERS / "parquet.sql").read_text()
    with duckdb.connect("shop.duckdb") as shop:
        first = shop.execute(sql).fetchall()
        count = shop.execute("SELECT count(*) FROM reading").fetchall()
        assert repr(shop.execute(sql).fetchall()) == repr(first)
        assert shop.execute("SELECT count(*) FROM reading").fetchall() == count
    assert any(row[0] == "GQ-E-2211" for row in first)


def test_qif_is_read_with_its_statuses(made: Path, tmp_path: Path) -> None:
    lines = run("qif.py", export(made, "qif", tmp_path / "all.qif"))
    heads = [line for line in lines if not line.startswith(" ")]
    assert len(heads) == len(documents(made))
    assert any(line.endswith("FAIL") for line in heads)
    assert any("CircularRunoutCharacteristicMeasurement PASS" in line and "mm ±" in line for line in lines)


def test_a_calendar_is_listed_by_day(made: Path, tmp_path: Path) -> None:
    main(["due", "--all", "--config", f"{made}/ringtrue.toml", "--ical", str(tmp_path / "due.ics")])
    lines = run("agenda.py", tmp_path / "due.ics")
    assert lines == sorted(lines)
    assert any("Damper inspection: GQ-E-2207 (truck 14)" in line for line in lines)


async def test_inspections_are_fetched_once_each_and_the_calendar_too(made: Path, tmp_path: Path) -> None:
    reads = read_routes(Showing(read_settings(made / "ringtrue.toml", {})))
    (tmp_path / "password").write_text(CREDENTIAL + "\n")
    (tmp_path / "filed").mkdir()
    async with site(tmp_path, reads=reads) as bay:
        arguments = (bay.root, "records", tmp_path / "password", tmp_path / "filed")
        await ran("inspections.py", *arguments)
        await ran("inspections.py", *arguments)
        async with bay.entered() as program:
            calendar = await program.get("/api/1/due.ics")
    filed = {path.stem: json.loads(path.read_text()) for path in (tmp_path / "filed").glob("*.json")}
    assert filed == documents(made)
    (tmp_path / "asked.ics").write_bytes(calendar.content)
    assert await ran("agenda.py", tmp_path / "asked.ics")


async def test_what_is_worth_a_call_is_said(tmp_path: Path) -> None:
    line = Line()
    line.publish(TOPICS.status, status_payload("online"), retain=True)
    line.publish(TOPICS.health, health_payload(HEALTH.model_copy(update={"disk_free_bytes": 5})), retain=True)
    line.publish(Topics("greywacke", "bay-3").status, status_payload("offline"), retain=True)
    async with site(tmp_path, line) as bay:
        await settled(
            lambda: len(bay.world.feed.bays) == 2 and any(b.health for b in bay.world.feed.bays.values())
        )
        said = await ran("alarms.py", bay.root)
    assert said == ["greywacke/bay-3: its daemon is not running", "greywacke/bay-2: 5 bytes of disk left"]


@asynccontextmanager
async def host(*arguments: str) -> AsyncIterator[asyncio.StreamReader]:
    process = await asyncio.create_subprocess_exec(
        sys.executable, str(RECEIVERS / "sparkplug.py"), *arguments, stdout=asyncio.subprocess.PIPE
    )
    assert process.stdout is not None
    try:
        yield process.stdout
    finally:
        process.terminate()
        await process.wait()


async def test_a_host_hears_a_bay_by_sparkplug(tmp_path: Path) -> None:
    async with mosquitto(tmp_path) as broker:
        await until_listening(broker.address)
        async with host(broker.address.host, str(broker.address.port), "quarry") as said:
            assert await asyncio.wait_for(said.readline(), WAIT_S) == b"listening\n"
            heard: list[str] = []
            async with living(broker.address), asyncio.timeout(WAIT_S):
                while not any("Bay/Running" in line for line in heard):
                    heard.append((await said.readline()).decode())
            while "NDEATH bay-2\n" not in heard:
                heard.append((await asyncio.wait_for(said.readline(), WAIT_S)).decode())
    assert any(line.startswith("NBIRTH bay-2 ") for line in heard)
