"""All parts by one command; and what ships for each role."""

from __future__ import annotations

import asyncio
import configparser
import re
import shutil
import signal
import subprocess
import sys
from fnmatch import fnmatch
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.oid import NameOID

from config.files import fleet_file
from config.settings import read_settings
from link.address import BrokerAddress
from link.display import connect
from tests.link.outside import WAIT_S
from tests.parts.authority import Authority
from tests.parts.shipped import lay

ROOT = Path(__file__).parents[2]
SHELL = re.compile(r"```sh\n(.*?)```", re.DOTALL)
UNITS = ("ringtrue-writer@.service", "ringtrue-display.service", "ringtrue-node.service")


@pytest.mark.slow
async def test_one_command_starts_every_part_and_a_signal_ends_them(tmp_path: Path) -> None:
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tests.parts", str(tmp_path / "parts"), cwd=ROOT, stdout=asyncio.subprocess.PIPE
    )
    assert process.stdout is not None
    lines: dict[str, list[str]] = {}
    async with asyncio.timeout(2 * WAIT_S):
        while "bay-2" not in lines:
            line = (await process.stdout.readline()).decode().split()
            assert line, "it ended before all was there"
            lines[line[0]] = line[1:]
    host, _, port = lines["broker"][0].removeprefix("mqtts://").rpartition(":")
    address = BrokerAddress(
        host, int(port), tls=True, ca_file=Path(lines["authority"][0]), username="display",
        password="secret of display",
    )  # fmt: skip
    async with connect(address) as display:
        await display.subscribe("ringtrue/1/#")
    process.send_signal(signal.SIGINT)
    async with asyncio.timeout(WAIT_S):
        assert await process.wait() == 0
    with pytest.raises(OSError, match=r"refused|failed"):
        await asyncio.open_connection(host, int(port))


def _unit(name: str) -> configparser.ConfigParser:
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str  # type: ignore[assignment, method-assign]  # keys of systemd have capitals
    parser.read_string(fleet_file(name).read_text())
    return parser


@pytest.mark.parametrize("name", UNITS)
def test_a_unit_runs_as_a_user_of_its_own_and_may_write_only_its_own(name: str) -> None:
    service = _unit(name)["Service"]
    assert service["User"] == service["Group"] != "root"
    assert (service["ProtectSystem"], service["NoNewPrivileges"]) == ("strict", "yes")
    assert service["CapabilityBoundingSet"] == ""
    assert service["Restart"] in ("always", "on-failure")


@pytest.mark.slow
@pytest.mark.parametrize("name", UNITS)
def test_a_unit_is_one_to_the_service_manager(name: str, tmp_path: Path) -> None:
    tool = shutil.which("systemd-analyze")
    assert tool is not None, "the tests need systemd-analyze (Debian: systemd)"
    here = re.sub(r"(Exec\w+=)/\S+", rf"\1{sys.executable}", fleet_file(name).read_text())
    file = tmp_path / name.replace("@.", "@1.")
    file.write_text(here)
    done = subprocess.run([tool, "verify", str(file)], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_the_recipe_has_every_role_and_copies_what_there_is() -> None:
    text = fleet_file("Containerfile").read_text()
    stages = dict(re.findall(r"^FROM (\S+) AS (\S+)$", text, re.MULTILINE)[n][::-1] for n in range(8))
    assert {"bay", "writer", "display", "broker", "node", "database"} <= set(stages)
    assert {origin for origin in stages.values() if origin not in stages} == {"debian:trixie-slim"}
    everything, *context = (ROOT / ".dockerignore").read_text().splitlines()
    assert everything == "*"
    context = [kept.removeprefix("!") for kept in context]
    for sources in re.findall(r"^COPY (.+) \S+$", text, re.MULTILINE):
        for source in sources.split():
            assert source.startswith("dist/") or (ROOT / source).is_file(), source
            assert any(fnmatch(source, f"{kept}*") for kept in context), f".dockerignore leaves out {source}"
    assert text.count("ENTRYPOINT") == 6


def test_what_ships_asks_for_no_path_that_the_units_do_not_give() -> None:
    node = _unit("ringtrue-node.service")["Service"]
    program, *_, config = node["ExecStart"].split()
    assert config == "/etc/ringtrue-node/node.conf"
    # Where Debian's package has it (its list of files), and the recipe too.
    assert program == "/usr/sbin/nats-server"
    assert f'ENTRYPOINT ["{program}", ' in fleet_file("Containerfile").read_text()
    assert f"store_dir: {node['ReadWritePaths']}" in fleet_file("node.conf").read_text()


def test_the_pages_of_a_hall_have_a_configuration(tmp_path: Path) -> None:
    file = lay(tmp_path, "display.toml", {})
    unit = _unit("ringtrue-display.service")["Service"]["ExecStart"]
    assert unit.endswith(f"/{file.name}")
    (tmp_path / "ca.crt").touch()
    (tmp_path / "display.password").write_text("secret")
    settings = read_settings(file, {})
    assert settings.mqtt.username == "display"
    assert settings.display.listen == "127.0.0.1:8080"


def test_the_page_makes_the_lines_that_the_file_has() -> None:
    """docs/fleet/parts.md, by the shell."""
    page = (ROOT / "docs/fleet/parts.md").read_text()
    (block,) = (part for part in SHELL.findall(page) if part.startswith("bay="))
    said = subprocess.run(
        ["bash", "-c", block.replace("bay-3", "bay-2")], capture_output=True, text=True, check=True
    )
    assert said.stdout in fleet_file("node-users.conf").read_text()


@pytest.mark.slow
def test_the_page_makes_a_certificate_that_says_who_it_is(tmp_path: Path) -> None:
    page = (ROOT / "docs/fleet/parts.md").read_text()
    (block,) = (
        part for part in re.findall(r"```sh\n(.*?)```", page, re.DOTALL) if part.startswith("openssl")
    )
    authority = Authority(tmp_path)
    (tmp_path / "shop-ca.crt").write_bytes(authority.file.read_bytes())
    (tmp_path / "shop-ca.key").write_bytes(authority.file.with_suffix(".key").read_bytes())
    subprocess.run(["bash", "-euc", block], cwd=tmp_path, capture_output=True, check=True)
    made = x509.load_pem_x509_certificate((tmp_path / "bay-2.crt").read_bytes())
    (name,) = made.subject
    assert (name.oid, name.value) == (NameOID.COMMON_NAME, "greywacke/bay-2")
