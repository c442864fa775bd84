"""The rules of the house that a test can hold."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]

ARROWS: dict[str, set[str]] = {
    "contract": set(),
    "config": {"contract"},
    "chain": {"config", "contract"},
    "drivers": {"config", "contract"},
    "grading": {"config", "contract"},
    "link": {"config", "contract"},
    "acquire": {"chain", "config", "contract", "drivers", "grading", "link"},
    "records": {"chain", "config", "contract", "grading", "link"},
    "display": {"config", "contract", "link", "records"},
    "simulators": {"config", "contract", "drivers"},
    "ringtrue": {
        "acquire", "chain", "config", "contract", "display", "drivers", "grading", "link", "records",
        "simulators",
    },
}  # fmt: skip
"""Room → the rooms it may import."""

_WITH_WINGS = (
    "config",
    "drivers",
    "grading",
    "acquire",
    "records",
    "exports",
    "fleet",
    "forwarding",
    "report",
    "walk",
    "inspecting",
)
WINGS = {f"wings of {room}" for room in _WITH_WINGS} | {"figures", "walk", "mqtt", "daemon"}
"""Contracts between the wings inside a room, and on libraries."""

LONGEST = {"grading": 300}
LONGEST_ELSEWHERE = 400
"""Lines of a file: more is more than one idea."""

NO_TEXT = {".pyc", ".png", ".ttf", ".woff2", ".xz"}
"""What such files hold is not read by people."""

PYPROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())


def sources(*rooms: str) -> list[Path]:
    return sorted(path for room in rooms for path in (ROOT / room).rglob("*.py"))


def test_every_folder_with_code_is_a_room_that_has_its_place() -> None:
    ours = {path.parent.name for path in ROOT.glob("*/*.py")}
    assert ours == {*ARROWS, "tests"}
    assert PYPROJECT["tool"]["importlinter"]["root_packages"] == sorted(ARROWS)
    assert PYPROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"] == sorted(ARROWS)
    assert PYPROJECT["tool"]["mypy"]["packages"] == sorted([*ARROWS, "tests"])
    assert list(ROOT.glob("*.py")) == []


@pytest.mark.parametrize(("room", "floors"), [("grading", 7), ("acquire", 8)])
def test_a_room_has_few_floors(room: str, floors: int) -> None:
    """Its wings import downwards only, which import-linter holds: what calls for more floors is a maze."""
    (wings,) = (
        one for one in PYPROJECT["tool"]["importlinter"]["contracts"] if one["id"] == f"wings of {room}"
    )
    assert wings["exhaustive"]
    assert len(wings["layers"]) <= floors


def test_every_room_says_that_it_is_typed() -> None:
    """PEP 561: who imports us is checked against our types."""
    assert [room for room in sorted(ARROWS) if not (ROOT / room / "py.typed").is_file()] == []


def test_each_room_has_a_contract_that_forbids_all_but_its_arrows() -> None:
    contracts = {contract["id"]: contract for contract in PYPROJECT["tool"]["importlinter"]["contracts"]}
    assert set(contracts) == (set(ARROWS) - {"ringtrue"}) | WINGS
    for room, contract in contracts.items():
        if room in WINGS:
            continue
        assert contract["source_modules"] == [room]
        assert set(contract["forbidden_modules"]) == set(ARROWS) - ARROWS[room] - {room}


@pytest.mark.slow
def test_the_arrows_between_the_rooms_hold() -> None:
    lint = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([lint, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_no_room_imports_the_tests() -> None:
    importing = []
    for path in sources(*ARROWS):
        for node in ast.walk(ast.parse(path.read_text())):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            importing += [path.name for name in names if name.split(".")[0] == "tests"]
    assert importing == []


def test_nothing_is_there_for_the_tests_alone() -> None:
    """The simulators aside, which are a rig for stories, and the contract, which is for clients."""
    trees = {path: ast.parse(path.read_text()) for path in sources(*ARROWS)}
    used = {
        name
        for tree in trees.values()
        for node in ast.walk(tree)
        for name in (getattr(node, "id", None), getattr(node, "attr", None))
    }
    unused = [
        f"{path.relative_to(ROOT)}: {node.name}"
        for path, tree in trees.items()
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
        and node.name not in used
        and path.relative_to(ROOT).parts[0] not in {"simulators", "contract"}
    ]
    assert unused == []


def test_no_file_is_longer_than_one_idea() -> None:
    lengths = {path: len(path.read_text().splitlines()) for path in sources(*ARROWS, "tests")}
    too_long = {
        str(path.relative_to(ROOT)): length
        for path, length in lengths.items()
        if length > LONGEST.get(path.relative_to(ROOT).parts[0], LONGEST_ELSEWHERE)
    }
    assert too_long == {}


def test_nothing_names_a_place_of_one_machine_or_a_registry() -> None:
    places = re.compile(
        "|".join(("/" + "root/", "/" + "home/", "/" + "work/", "py" + "pi", "python" + "hosted"))
    )
    written = [
        *(path for path in ROOT.glob("*.*") if path.name != ".git"),
        ROOT / "run",
        *(ROOT / ".ci").glob("*"),
        *(ROOT / "locks").glob("*"),
    ]
    for folder in (*ARROWS, "tests", "docs", "examples"):
        written += (ROOT / folder).rglob("*.*")
    naming = [
        str(path.relative_to(ROOT))
        for path in written
        if path.is_file() and path.suffix not in NO_TEXT and places.search(path.read_text())
    ]
    assert naming == []


def test_test_files_have_names_of_their_own() -> None:
    names = [path.name for path in (ROOT / "tests").rglob("test_*.py")]
    assert sorted({name for name in names if names.count(name) > 1}) == []


@pytest.mark.parametrize("lock", ["run", "test"])
def test_a_lock_pins_by_hash_and_names_no_place_to_fetch_from(lock: str) -> None:
    text = (ROOT / "locks" / f"{lock}.txt").read_text()
    assert not re.search(r"://|^\s*-", text.replace("    --hash=sha256:", ""), re.MULTILINE)
    pins = re.split(r"\n(?=\S)", text.strip())
    assert [pin for pin in pins if not re.match(r"[\w.-]+==\S+", pin) or "--hash=sha256:" not in pin] == []


def test_the_tests_run_on_the_very_versions_that_users_run() -> None:
    run, test = (
        set(re.findall(r"^([\w.-]+==\S+)", (ROOT / f"locks/{lock}.txt").read_text(), re.MULTILINE))
        for lock in ("run", "test")
    )
    assert run <= test


def test_the_locks_hold_every_dependency_that_is_asked_for() -> None:
    groups = PYPROJECT["dependency-groups"]
    extras = PYPROJECT["project"]["optional-dependencies"].values()
    run = [*PYPROJECT["project"]["dependencies"], *(one for extra in extras for one in extra)]
    asked = {"run": run, "test": run + groups["test"] + groups["build"]}
    for lock, requirements in asked.items():
        pinned = set(re.findall(r"^([\w.-]+)==", (ROOT / f"locks/{lock}.txt").read_text(), re.MULTILINE))
        assert {re.split(r"[^\w.-]", requirement)[0] for requirement in requirements} <= pinned


def test_no_dependency_brings_a_module_named_like_a_room() -> None:
    taken = {
        room: by for room, by in packages_distributions().items() if room in ARROWS and by != ["ringtrue"]
    }
    assert taken == {}


@pytest.mark.slow
def test_the_wheel_holds_the_rooms_their_data_and_nothing_else(tmp_path: Path) -> None:
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        metadata = next(name for name in names if name.endswith(".dist-info/METADATA"))
        assert "License-Expression: Apache-2.0" in archive.read(metadata).decode()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == set(ARROWS)
    here = {
        str(path.relative_to(ROOT))
        for room in ARROWS
        for path in (ROOT / room).rglob("*")
        if path.is_file() and path.suffix != ".pyc"
    }
    assert {f"{room}/py.typed" for room in ARROWS} <= here
    assert here <= names
    assert any(name.startswith("config/gauges/") for name in here)
    assert any(name.startswith("config/methods/") for name in here)


@pytest.mark.slow
def test_a_test_that_leaves_a_task_behind_fails(tmp_path: Path) -> None:
    inner = tmp_path / "test_inner.py"
    inner.write_text(
        "import asyncio\n"
        "async def test_tidy() -> None:\n"
        "    task = asyncio.create_task(asyncio.sleep(60))\n"
        "    task.cancel()\n"
        "async def test_untidy() -> None:\n"
        "    test_untidy.task = asyncio.create_task(asyncio.sleep(60))\n"
    )
    run = [sys.executable, "-m", "pytest", "-q", "-c", str(ROOT / "pyproject.toml"), "-p", "tests.conftest"]
    done = subprocess.run([*run, str(inner)], cwd=ROOT, capture_output=True, text=True, check=False)
    assert "2 passed, 1 error" in done.stdout, done.stdout
    assert "tasks left behind" in done.stdout
